//! What rules call the values that they handle.

use std::any;

use hitchwork_core::colour::{Colour, Palette};
use hitchwork_core::craft::End;
use hitchwork_core::knot::Side;
use hitchwork_core::picture::Picture;
use hitchwork_core::row::Row;
use rhai::{Array, Dynamic};

use crate::functions::TiedPicture;
use crate::sketch::Sketch;

/// What rules call a value.
pub(crate) fn type_name(value: &Dynamic) -> &'static str {
    plain_type_name(value.type_name())
}

/// Names a type as the compiler does.
type NameOf = fn() -> &'static str;

/// What rules call the types of values that are not the engine's own.
const OWN: &[(NameOf, &str)] = &[
    (any::type_name::<Row>, "a row"),
    (any::type_name::<Sketch>, "a band"),
    (any::type_name::<Palette>, "a palette"),
    (any::type_name::<Colour>, "a colour"),
    (any::type_name::<End>, "an end"),
    (any::type_name::<Side>, "a side"),
    (any::type_name::<Picture>, "a picture"),
    (any::type_name::<TiedPicture>, "a tied picture"),
    (any::type_name::<std::ops::Range<i64>>, "a range"),
    (any::type_name::<std::ops::RangeInclusive<i64>>, "a range"),
    (any::type_name::<Array>, "a list"),
];

/// What rules call a type of the engine.
pub(crate) fn plain_type_name(name: &str) -> &'static str {
    match name {
        "i64" => "a whole number",
        "f64" => "a number",
        "bool" => "yes or no",
        "string"
        | "&str"
        | "ImmutableString"
        | "char"
        | "alloc::string::String"
        | "&str | ImmutableString | String" => "text",
        "array" => "a list",
        "map" => "a map",
        "Fn" => "a function",
        "()" => "nothing",
        "range" | "range=" => "a range",
        // The names under which the modules show their types.
        "row" => "a row",
        "band" => "a band",
        "colour" => "a colour",
        "end" => "an end",
        "side" => "a side",
        "picture" => "a picture",
        "tied_picture" => "a tied picture",
        name => {
            let own = OWN.iter().find(|(own, _)| own() == name);
            own.map_or("something else", |(_, word)| word)
        }
    }
}
