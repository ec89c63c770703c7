//! Plots of a family of bands: one panel for every measure, side by side.
//!
//! Every band is a dot over its setting; those that keep to all limits are filled, the
//! others hollow. What a limit allows is shaded, and the recommended band is ringed and
//! labelled. Nothing is told by colour alone.

use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use crate::error::{Error, Problem};
use crate::xml::escaped;

/// A band in a panel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dot {
    /// Its setting.
    pub x: f64,
    /// What it measures.
    pub y: f64,
    /// Whether it keeps to all limits.
    pub feasible: bool,
    /// Whether it is the one to take.
    pub recommended: bool,
}

/// The bands that differ in the first setting only.
#[derive(Clone, Debug, PartialEq)]
pub struct PlotLine {
    /// The value of the second setting; empty where there is none.
    pub name: String,
    /// Its bands.
    pub dots: Vec<Dot>,
}

/// One measure over the settings.
#[derive(Clone, Debug, PartialEq)]
pub struct Panel {
    /// What is measured, with its unit.
    pub title: String,
    /// The bands.
    pub lines: Vec<PlotLine>,
    /// The least that is allowed.
    pub at_least: Option<f64>,
    /// The most that is allowed.
    pub at_most: Option<f64>,
}

/// All panels.
#[derive(Clone, Debug, PartialEq)]
pub struct Plot {
    /// What it is about.
    pub title: String,
    /// What is under the title, such as the recommendation; may be empty.
    pub subtitle: String,
    /// The name of the setting.
    pub along: String,
    /// The name of the second setting, by which lines differ; empty where there is none.
    pub across: String,
    /// The panels, two in a row.
    pub panels: Vec<Panel>,
}

const PANEL: (u32, u32) = (440, 250);
const HEAD: u32 = 66;
const FOOT: u32 = 30;
const FONT: &str = crate::font::FAMILY;
const INK: RGBColor = RGBColor(38, 42, 48);
const FAINT: RGBColor = RGBColor(222, 224, 228);
const ALLOWED: RGBColor = RGBColor(232, 240, 233);
const LINE: RGBColor = RGBColor(36, 86, 128);

/// Draws the panels as SVG.
///
/// ```
/// use hitchwork_draw::plot::{Dot, PlotLine, Panel, Plot, svg};
/// let dot = |x: f64| Dot { x, y: x * x, feasible: x < 5.0, recommended: x == 4.0 };
/// let picture = svg(&Plot {
///     title: "drift".into(), subtitle: String::new(), along: "threads".into(), across: String::new(),
///     panels: vec![Panel {
///         title: "knots".into(), at_least: None, at_most: Some(25.0),
///         lines: vec![PlotLine { name: String::new(), dots: (2..8).map(f64::from).map(dot).collect() }],
///     }],
/// })?;
/// assert!(picture.contains("<title>drift</title>"));
/// # Ok::<(), hitchwork_draw::Error>(())
/// ```
///
/// # Errors
/// When there is nothing to draw, or a number is not finite.
pub fn svg(plot: &Plot) -> Result<String, Error> {
    let dots = || {
        let lines = plot.panels.iter().flat_map(|panel| &panel.lines);
        lines.flat_map(|line| &line.dots)
    };
    if plot.panels.is_empty() || plot.panels.iter().any(Panel::is_empty) {
        return Err(Problem::EmptyPlot.into());
    }
    if dots().any(|dot| !(dot.x.is_finite() && dot.y.is_finite())) {
        return Err(Problem::EndlessPlot.into());
    }
    let rows = u32::try_from(plot.panels.len().div_ceil(2)).expect("few panels");
    let columns = if plot.panels.len() == 1 { 1 } else { 2 };
    let size = (PANEL.0 * columns, HEAD + PANEL.1 * rows + FOOT);
    let mut text = String::new();
    draw(plot, &mut text, size, (rows, columns)).map_err(|error| Problem::NotAPicture {
        reason: error.to_string(),
    })?;
    // The backend writes no words for those who do not see the picture.
    let head_ends = text
        .find("<svg")
        .and_then(|at| Some(at + text[at..].find('>')? + 1));
    let words = format!(
        "\n<title>{}</title>\n<desc>{}</desc>",
        escaped(&plot.title),
        escaped(&description(plot))
    );
    text.insert_str(head_ends.unwrap_or(0), &words);
    Ok(text)
}

impl Panel {
    fn is_empty(&self) -> bool {
        self.lines.iter().all(|line| line.dots.is_empty())
    }

    fn dots(&self) -> impl Iterator<Item = &Dot> {
        self.lines.iter().flat_map(|line| &line.dots)
    }

    /// The range of settings, with a little room, and that of the measure, from 0 on.
    fn ranges(&self) -> ((f64, f64), (f64, f64)) {
        let (mut least, mut most, mut top) = (f64::MAX, f64::MIN, 0.0_f64);
        for dot in self.dots() {
            (least, most, top) = (least.min(dot.x), most.max(dot.x), top.max(dot.y));
        }
        let limits = [self.at_least, self.at_most].into_iter().flatten();
        // A limit far above every band would flatten them all.
        let highest = limits.fold(top, |highest, limit| highest.max(limit.min(top * 1.5)));
        let room = ((most - least) * 0.04).max(0.5);
        let bottom = self.dots().map(|dot| dot.y).fold(0.0, f64::min);
        (
            (least - room, most + room),
            (bottom, (highest * 1.15).max(1e-6)),
        )
    }
}

fn description(plot: &Plot) -> String {
    let measures: Vec<&str> = plot
        .panels
        .iter()
        .map(|panel| panel.title.as_str())
        .collect();
    format!(
        "One panel for each of: {}; over {}. {}",
        measures.join(", "),
        plot.along,
        plot.subtitle
    )
}

type PlotResult = Result<(), Box<dyn std::error::Error>>;

fn draw(
    plot: &Plot,
    text: &mut String,
    size: (u32, u32),
    (rows, columns): (u32, u32),
) -> PlotResult {
    let root = SVGBackend::with_string(text, size).into_drawing_area();
    root.fill(&WHITE)?;
    let (head, rest) = root.split_vertically(HEAD);
    let style = |height: i32| (FONT, height).into_font().color(&INK);
    head.draw(&Text::new(plot.title.clone(), (16, 12), style(19)))?;
    let room = (size.0 as usize - 32) / 7;
    for (line, at) in wrapped(&plot.subtitle, room).iter().take(2).zip([34, 49]) {
        head.draw(&Text::new(line.clone(), (16, at), style(12)))?;
    }
    let (panels, foot) = rest.split_vertically(PANEL.1 * rows);
    let areas = panels.split_evenly((rows as usize, columns as usize));
    for (panel, area) in plot.panels.iter().zip(&areas) {
        draw_panel(panel, plot, area)?;
    }
    let key = if plot
        .panels
        .iter()
        .any(|panel| panel.at_least.or(panel.at_most).is_some())
    {
        "filled: within all limits; hollow: not; shaded: what the limit allows; ringed: recommended"
    } else {
        "ringed: recommended"
    };
    foot.draw(&Text::new(key, (16, 8), style(12)))?;
    root.present()?;
    Ok(())
}

/// Lines of at most this many characters.
fn wrapped(text: &str, width: usize) -> Vec<String> {
    textwrap::wrap(text, width)
        .into_iter()
        .map(std::borrow::Cow::into_owned)
        .collect()
}

fn draw_panel(panel: &Panel, plot: &Plot, area: &DrawingArea<SVGBackend<'_>, Shift>) -> PlotResult {
    let ((left, right), (bottom, top)) = panel.ranges();
    let named = panel.lines.iter().any(|line| !line.name.is_empty());
    let style = |height: i32| (FONT, height).into_font().color(&INK);
    let mut chart = ChartBuilder::on(area)
        .caption(&panel.title, style(14))
        .margin(8)
        .margin_right(if named { 96 } else { 18 })
        .x_label_area_size(36)
        .y_label_area_size(52)
        .build_cartesian_2d(left..right, bottom..top)?;
    if panel.at_least.or(panel.at_most).is_some() {
        let from = panel.at_least.unwrap_or(bottom).clamp(bottom, top);
        let to = panel.at_most.unwrap_or(top).clamp(bottom, top);
        if to > from {
            let corners = [(left, from), (right, to)];
            chart.draw_series([Rectangle::new(corners, ALLOWED.filled())])?;
        }
    }
    chart
        .configure_mesh()
        .disable_x_mesh()
        .bold_line_style(FAINT)
        .light_line_style(TRANSPARENT)
        .axis_style(INK)
        .x_labels(10)
        .y_labels(6)
        .x_label_formatter(&|x| figure(*x))
        .y_label_formatter(&|y| figure(*y))
        .x_desc(plot.along.as_str())
        .label_style(style(11))
        .axis_desc_style(style(12))
        .draw()?;
    for limit in [panel.at_least, panel.at_most].into_iter().flatten() {
        if (bottom..=top).contains(&limit) {
            chart.draw_series(DashedLineSeries::new(
                [(left, limit), (right, limit)],
                5,
                4,
                INK.stroke_width(1),
            ))?;
        }
    }
    let count = panel.lines.len();
    for (number, line) in panel.lines.iter().enumerate() {
        let ink = shade(number, count);
        let points = || line.dots.iter().map(|dot| (dot.x, dot.y));
        chart.draw_series(LineSeries::new(points(), ink.stroke_width(2)))?;
        chart.draw_series(
            line.dots
                .iter()
                .map(|dot| Circle::new((dot.x, dot.y), 4, WHITE.filled())),
        )?;
        chart.draw_series(line.dots.iter().map(|dot| {
            let fill = if dot.feasible {
                ink.filled()
            } else {
                ink.stroke_width(1)
            };
            Circle::new((dot.x, dot.y), 3, fill)
        }))?;
    }
    for (place, names) in labels(panel, (top - bottom) / 14.0) {
        let anchor = style(11).pos(Pos::new(HPos::Left, VPos::Center));
        let words = format!("{} {names}", plot.across);
        chart.draw_series([EmptyElement::at(place) + Text::new(words, (10, 0), anchor)])?;
    }
    for dot in panel.dots().filter(|dot| dot.recommended) {
        let anchor = style(12).pos(Pos::new(HPos::Center, VPos::Bottom));
        let ring = EmptyElement::at((dot.x, dot.y))
            + Circle::new((0, 0), 8, INK.stroke_width(2))
            + Text::new(figure(dot.y), (0, -12), anchor);
        chart.draw_series([ring])?;
    }
    Ok(())
}

/// Where the lines end and what they are called; those that end nearer than `apart` share
/// a label.
fn labels(panel: &Panel, apart: f64) -> Vec<((f64, f64), String)> {
    let mut labels: Vec<((f64, f64), String)> = Vec::new();
    for line in panel.lines.iter().filter(|line| !line.name.is_empty()) {
        let Some(last) = line.dots.last() else {
            continue;
        };
        let near = |label: &&mut ((f64, f64), String)| (label.0.1 - last.y).abs() < apart;
        match labels.iter_mut().find(near) {
            Some((_, names)) => {
                names.push_str(", ");
                names.push_str(&line.name);
            }
            None => labels.push(((last.x, last.y), line.name.clone())),
        }
    }
    labels
}

/// From dark to light over the lines of a panel.
fn shade(number: usize, count: usize) -> RGBColor {
    let share = |channel: u8| {
        let lighter = (usize::from(channel) * (count.max(2) - 1 - number)
            + usize::from(170 + channel / 4) * number)
            / (count.max(2) - 1);
        u8::try_from(lighter.min(255)).unwrap_or(u8::MAX)
    };
    RGBColor(share(LINE.0), share(LINE.1), share(LINE.2))
}

/// A number with as many decimals as it needs: one at most.
fn figure(value: f64) -> String {
    let tenths = (value * 10.0).round() / 10.0;
    if tenths == 0.0 {
        "0".to_owned()
    } else {
        tenths.to_string()
    }
}
