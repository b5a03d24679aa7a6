//! A plain canvas of any size, its picture as text, and the comparison with the pictures kept beside the tests.

use std::convert::Infallible;
use std::path::PathBuf;
use std::{env, fs};

use embedded_graphics::Pixel;
use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::{OriginDimensions, Size};
use embedded_graphics::pixelcolor::BinaryColor;
use firmware::screen::{Frame, ScreenSettings, draw_on};
use firmware::view::View;

/// The plainest target there is: a list of pixels, and a count of those drawn outside it.
#[derive(PartialEq)]
pub struct Canvas {
    size: Size,
    lit: Vec<bool>,
    pub outside: usize,
}

impl Canvas {
    pub fn new(width: u32, height: u32) -> Self {
        Self { size: Size::new(width, height), lit: vec![false; (width * height) as usize], outside: 0 }
    }

    /// A view drawn on a canvas of its own.
    pub fn of(view: &View, width: u32, height: u32) -> Self {
        let mut canvas = Self::new(width, height);
        draw_on(&mut canvas, view, &ScreenSettings::default()).unwrap();
        canvas
    }

    fn row(&self, y: u32) -> &[bool] {
        let width = self.size.width as usize;
        &self.lit[y as usize * width..][..width]
    }
}

impl OriginDimensions for Canvas {
    fn size(&self) -> Size {
        self.size
    }
}

impl DrawTarget for Canvas {
    type Color = BinaryColor;
    type Error = Infallible;

    fn draw_iter<I: IntoIterator<Item = Pixel<BinaryColor>>>(&mut self, pixels: I) -> Result<(), Infallible> {
        for Pixel(at, ink) in pixels {
            match (u32::try_from(at.x), u32::try_from(at.y)) {
                (Ok(x), Ok(y)) if x < self.size.width && y < self.size.height => {
                    self.lit[(y * self.size.width + x) as usize] = ink.is_on();
                }
                _ => self.outside += 1,
            }
        }
        Ok(())
    }
}

impl From<&Frame> for Canvas {
    fn from(frame: &Frame) -> Self {
        let places = (0..Frame::HEIGHT).flat_map(|y| (0..Frame::WIDTH).map(move |x| (x, y)));
        let lit = places.map(|(x, y)| frame.pixel(x, y)).collect();
        Self { size: frame.size(), lit, outside: 0 }
    }
}

/// A picture in half blocks: two rows of pixels a line, each line closed by a bar on both sides.
fn half_blocks(canvas: &Canvas) -> String {
    let block = |(upper, lower): (&bool, &bool)| match (upper, lower) {
        (false, false) => ' ',
        (true, false) => '▀',
        (false, true) => '▄',
        (true, true) => '█',
    };
    let line = |y| canvas.row(y).iter().zip(canvas.row(y + 1)).map(block).collect::<String>();
    (0..canvas.size.height).step_by(2).map(|y| format!("|{}|\n", line(y))).collect()
}

/// A picture for a page of `docs`: the lit pixels of each row in runs, four units a pixel, on a dark ground.
fn svg(canvas: &Canvas, title: &str) -> String {
    let (width, height) = (canvas.size.width, canvas.size.height);
    let mut lit = String::new();
    for y in 0..height {
        let mut x = 0;
        for run in canvas.row(y).chunk_by(|a, b| a == b) {
            if run[0] {
                lit += &format!("M{x} {y}h{}v1h-{}z\n", run.len(), run.len());
            }
            x += run.len();
        }
    }
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{}\" height=\"{}\" \
         viewBox=\"-3 -3 {} {}\" role=\"img\" shape-rendering=\"crispEdges\">\n<title>{title}</title>\n\
         <rect x=\"-3\" y=\"-3\" width=\"{}\" height=\"{}\" fill=\"#0b0f14\"/>\n<path fill=\"#e8f1ff\" d=\"\n{lit}\"/>\n</svg>\n",
        (width + 6) * 4,
        (height + 6) * 4,
        width + 6,
        height + 6,
        width + 6,
        height + 6,
    )
}

/// Compares a picture with `docs/pictures/dash-<name>.svg`, or rewrites that file when `GUNLINE_REDRAW` is set.
pub fn assert_page_picture(name: &str, title: &str, canvas: &Canvas) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("../docs/pictures")
        .join(format!("dash-{name}"))
        .with_extension("svg");
    let drawn = svg(canvas, title);
    if env::var_os("GUNLINE_REDRAW").is_some() {
        fs::write(&path, &drawn).unwrap();
    }
    assert!(
        fs::read_to_string(&path).unwrap_or_default() == drawn,
        "docs/pictures/dash-{name}.svg is not as drawn"
    );
}

/// Compares a picture with `tests/screens/<name>.txt`, or rewrites that file when `GUNLINE_REDRAW` is set.
pub fn assert_picture(name: &str, canvas: &Canvas) {
    let path =
        PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/screens").join(name).with_extension("txt");
    let drawn = half_blocks(canvas);
    if env::var_os("GUNLINE_REDRAW").is_some() {
        fs::write(&path, &drawn).unwrap();
    }
    let kept = fs::read_to_string(&path).unwrap_or_default();
    assert!(kept == drawn, "{name} is not as kept in tests/screens. Kept:\n{kept}\nDrawn:\n{drawn}");
}
