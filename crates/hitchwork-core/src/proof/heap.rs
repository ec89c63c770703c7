//! Rows as heaps of pieces: what stays the same when knots that do not touch are tied in
//! another order.

use crate::knot::{Column, Knot};
use crate::row::Row;

/// The Cartier-Foata normal form of some rows: layers of knots that do not touch, each
/// knot in the first layer that it can be in, each layer from left to right.
///
/// Two ways of tying have the same normal form exactly when they differ only by the order
/// of knots in columns more than one apart, that is, when they make the same fabric
/// (Cartier & Foata 1969; Viennot 1986).
///
/// ```
/// use hitchwork_core::{knot::Kind, proof::normal_form, row::Row};
/// let one = Row::run(Kind::Forward, [1, 4, 2])?;
/// let other = Row::run(Kind::Forward, [4, 1, 2])?;
/// assert_eq!(normal_form(&[one]), normal_form(&[other]));
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[must_use]
pub fn normal_form(rows: &[Row]) -> Vec<Vec<Knot>> {
    let columns = rows
        .iter()
        .filter_map(Row::last_column)
        .map(Column::number)
        .max()
        .unwrap_or(0);
    // One column more at either side spares the edges a question.
    let mut layers_above = vec![0; usize::from(columns) + 2];
    let mut layers: Vec<Vec<Knot>> = Vec::new();
    for knot in rows.iter().flat_map(Row::knots) {
        let at = usize::from(knot.column().number());
        let layer = layers_above[at - 1]
            .max(layers_above[at])
            .max(layers_above[at + 1]);
        layers_above[at] = layer + 1;
        if layer == layers.len() {
            layers.push(Vec::new());
        }
        layers[layer].push(*knot);
    }
    for layer in &mut layers {
        layer.sort_unstable();
    }
    layers
}

/// Whether two ways of tying make the same fabric from the same threads.
#[must_use]
pub fn same_fabric(one: &[Row], other: &[Row]) -> bool {
    normal_form(one) == normal_form(other)
}
