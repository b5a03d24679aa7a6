//! A sheet to draw on: the few strokes that a drawing is made of, as SVG text.
//!
//! Whole pixels only, so the same drawing is the same file on every machine. The page is A4 upright at 162
//! dots an inch; the smallest letters print at 5.5 points.

use std::cell::RefCell;
use std::fmt::Write;

/// A point, pixels from the upper left corner.
pub type At = (i32, i32);

/// The page's size, and the margin left of where the drawing begins.
pub const PAGE: At = (1340, 1895);
const MARGIN: i32 = 50;

/// Styles by name, used as classes. Colours after Okabe and Ito, who chose them to differ for every eye
/// (from memory); nothing rests on colour alone.
const STYLE: &str = "
  text { font-family: 'DejaVu Sans', Verdana, Helvetica, sans-serif; font-size: 14px; fill: #111 }
  .title { font-size: 26px; font-weight: bold }
  .head { font-size: 15px; font-weight: bold }
  .strong { font-weight: bold }
  .small { font-size: 12.5px }
  .quiet { fill: #666 }
  .wire, .thin, .part, .board, .white { fill: none; stroke: #111; stroke-width: 1.6; stroke-linejoin: round; stroke-linecap: round }
  .wire { stroke-width: 2.6 }
  .part { fill: #fff }
  .white { fill: #fff; stroke: none }
  .board { fill: #eef4ee; stroke-width: 2 }
  .panel { fill: #fbfbf8; stroke: #999; stroke-width: 1 }
  .black { fill: #111; stroke: none }
  .uart { stroke: #0072b2 } .spi { stroke: #d55e00 } .i2c { stroke: #009e73 }
  .input { stroke: #8a3b75 } .pwm { stroke: #b07d00 } .output { stroke: #d55e00 } .supply { stroke: #111 }
";

/// Where a text is held.
#[derive(Clone, Copy)]
pub enum Hold {
    Left,
    Middle,
    Right,
}

/// The drawing so far. Everybody who draws shares it, so that strokes nest as they follow each other.
pub struct Sheet(RefCell<String>);

impl Sheet {
    /// An empty page.
    pub fn new(title: &str) -> Self {
        let (width, height) = PAGE;
        let sheet = Self(RefCell::default());
        sheet.put(format_args!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"-{MARGIN} 0 {width} {height}\" role=\"img\">"
        ));
        sheet.put(format_args!("<title>{}</title>", escaped(title)));
        sheet.put(format_args!("<style>{STYLE}</style>"));
        sheet.put(format_args!(
            "<rect class=\"white\" x=\"-{MARGIN}\" width=\"{width}\" height=\"{height}\"/>"
        ));
        sheet
    }

    /// The finished file.
    pub fn finish(self) -> String {
        self.0.into_inner() + "</svg>\n"
    }

    /// A broken line.
    pub fn line(&self, class: &str, points: &[At]) {
        let points: Vec<String> = points.iter().map(|(x, y)| format!("{x},{y}")).collect();
        self.put(format_args!("<polyline class=\"{class}\" points=\"{}\"/>", points.join(" ")));
    }

    /// A closed shape.
    pub fn shape(&self, class: &str, points: &[At]) {
        let points: Vec<String> = points.iter().map(|(x, y)| format!("{x},{y}")).collect();
        self.put(format_args!("<polygon class=\"{class}\" points=\"{}\"/>", points.join(" ")));
    }

    /// A box with its upper left corner at a point, its corners a little rounded.
    pub fn rect(&self, class: &str, (x, y): At, (width, height): At) {
        self.put(format_args!(
            "<rect class=\"{class}\" x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" rx=\"3\"/>"
        ));
    }

    /// A circle.
    pub fn circle(&self, class: &str, (x, y): At, radius: i32) {
        self.put(format_args!("<circle class=\"{class}\" cx=\"{x}\" cy=\"{y}\" r=\"{radius}\"/>"));
    }

    /// A text on its base line.
    pub fn text(&self, class: &str, hold: Hold, (x, y): At, words: &str) {
        let anchor = match hold {
            Hold::Left => "start",
            Hold::Middle => "middle",
            Hold::Right => "end",
        };
        let words = escaped(words);
        self.put(format_args!(
            "<text class=\"{class}\" text-anchor=\"{anchor}\" x=\"{x}\" y=\"{y}\">{words}</text>"
        ));
    }

    /// A text from bottom to top, around its middle.
    pub fn upward(&self, class: &str, (x, y): At, words: &str) {
        let words = escaped(words);
        self.put(format_args!(
            "<text class=\"{class}\" text-anchor=\"middle\" transform=\"translate({x} {y}) rotate(-90)\">{words}</text>"
        ));
    }

    fn put(&self, parts: std::fmt::Arguments) {
        writeln!(self.0.borrow_mut(), "{parts}").unwrap();
    }
}

fn escaped(words: &str) -> String {
    words.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}
