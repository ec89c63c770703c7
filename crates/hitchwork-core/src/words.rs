//! Reading one of a few words, and nothing else that Serde would take for one.

use std::fmt;
use std::marker::PhantomData;

use serde::de::{IntoDeserializer, Visitor};
use serde::{Deserialize, Deserializer};

/// Reads one of a few words. Serde would also take it as the name of a field.
pub(crate) fn one_of<'de, D: Deserializer<'de>, T: Deserialize<'de>>(
    deserializer: D,
) -> Result<T, D::Error> {
    struct WordVisitor<T>(PhantomData<T>);
    impl<'de, T: Deserialize<'de>> Visitor<'de> for WordVisitor<T> {
        type Value = T;
        fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            f.write_str("a string")
        }
        fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<T, E> {
            T::deserialize(text.into_deserializer())
        }
    }
    deserializer.deserialize_str(WordVisitor(PhantomData))
}
