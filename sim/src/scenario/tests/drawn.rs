//! Values drawn for keys: some that are right, some that are not.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

use crate::scenario::keys::{Key, Takes, bound};
use crate::scenario::measure;
use crate::scenario::number::Decimal;

/// Draws by a seed.
pub struct Draw(ChaCha8Rng);

impl Draw {
    pub fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// From 0 to below `end`.
    pub fn below(&mut self, end: usize) -> usize {
        (self.0.next_u64() % end as u64) as usize
    }

    pub fn one_in(&mut self, many: usize) -> bool {
        self.below(many) == 0
    }

    pub fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[self.below(from.len())]
    }

    /// Between the bounds, with three decimals at most.
    fn between(&mut self, from: &str, to: &str) -> Decimal {
        let (low, high) = (bound(from).to_f64(), bound(to).to_f64());
        let share = self.below(1_001) as f64 / 1_000.0;
        let number = Decimal::parse(&format!("{:.3}", low + (high - low) * share)).unwrap();
        number.clamp(bound(from), bound(to))
    }

    /// A value that its key takes.
    pub fn good(&mut self, takes: &Takes) -> String {
        match *takes {
            Takes::Number { unit, from, to } => self.number(unit, from, to),
            Takes::Whole { unit, from, to } => {
                let end = usize::try_from(to - from).unwrap().saturating_add(1);
                let number = from + i64::try_from(self.below(end)).unwrap();
                match self.below(4) {
                    0 if !unit.is_empty() => format!("\"{number} {unit}\"").replace("degrees C", "degC"),
                    1 if number < 1_000_000 => format!("{number}.0"),
                    _ => number.to_string(),
                }
            }
            Takes::List { each, most } => {
                let many = self.below(most + 1);
                let values: Vec<_> = (0..many).map(|_| self.good(each)).collect();
                format!("[{}]", values.join(", "))
            }
            Takes::Place => format!("[{}, {}]", self.latitude(), self.longitude()),
            Takes::Bends { most } => {
                let many = self.below(most + 1);
                let bend = |draw: &mut Self| {
                    let radius = draw.number("m", "-5000", "5000");
                    format!("[{}, {}, {radius}]", draw.latitude(), draw.longitude())
                };
                let bends: Vec<_> = (0..many).map(|_| bend(self)).collect();
                format!("[{}]", bends.join(", "))
            }
            Takes::Word(words) => format!("\"{}\"", self.pick(words)),
            Takes::Flag => self.pick(&["true", "false"]).to_owned(),
            Takes::Text => self.pick(&["\"a\"", "\"\"", "'b c'"]).to_owned(),
            Takes::File => self.pick(&["\"a.toml\"", "'b'"]).to_owned(),
            Takes::Moment => self
                .pick(&["2031-05-17T19:05:00Z", "1980-01-06T00:00:00.25Z", "2079-12-31 23:59:59Z"])
                .to_owned(),
            Takes::RaceTime => self
                .pick(&["\"-4:59.730\"", "\"1440:00\"", "\"-0:00.000001\"", "-86400", "12.5", "\"0012:03\""])
                .to_owned(),
        }
    }

    /// A number, or one with some unit that brings it between the bounds.
    fn number(&mut self, unit: &str, from: &str, to: &str) -> String {
        let number = self.between(from, to);
        let Some(name) =
            Some(measure::units_for(unit)).filter(|names| !names.is_empty()).map(|names| self.pick(&names))
        else {
            return number.to_string();
        };
        let text = format!("{number} {name}");
        match measure::read(&text, unit) {
            Ok(read) if (bound(from)..=bound(to)).contains(&read) => {
                self.pick(&[format!("\"{text}\"").as_str(), &number.to_string()]).to_owned()
            }
            _ => number.to_string(),
        }
    }

    fn latitude(&mut self) -> String {
        self.pick(&["45.0", "-85", "\"45°12'34.5\\\"N\"", "\"85 S\"", "\"12 30.25 N\"", "0"]).to_owned()
    }

    fn longitude(&mut self) -> String {
        self.pick(&["-30.0", "180", "\"30°0'0\\\"W\"", "\"0° E\"", "\"120°59.999'E\"", "-179.999999999"])
            .to_owned()
    }

    /// A value that its key does not take, for a reason that a schema can say.
    pub fn bad(&mut self, takes: &Takes) -> String {
        // To a schema a date is a text.
        let is_text = matches!(takes, Takes::Text | Takes::File);
        let other_kind = self.pick(&["{}", "[[]]", if is_text { "1" } else { "1979-05-27" }]).to_owned();
        if self.one_in(4) {
            return other_kind;
        }
        let beyond = |from: Decimal, to: Decimal, draw: &mut Self| {
            let one = Decimal::whole(1);
            let ends = [from.plus(one.negated()), to.plus(one)].map(|end| end.unwrap().to_string());
            ends[draw.below(2)].clone()
        };
        match *takes {
            Takes::Number { unit, from, to } => match self.below(4) {
                0 => self.bad_text(unit),
                1 => "true".to_owned(),
                _ => beyond(bound(from), bound(to), self),
            },
            Takes::Whole { unit, from, to } if to < i64::MAX => match self.below(4) {
                0 => self.bad_text(unit),
                1 => format!("{from}.5"),
                _ => beyond(Decimal::whole(from), Decimal::whole(to), self),
            },
            Takes::Whole { .. } => "-1".to_owned(),
            Takes::List { each, most } => match self.below(2) {
                0 => format!("[{}]", vec![self.good(each); most + 1].join(", ")),
                _ => format!("[{}]", self.bad(each)),
            },
            Takes::Place => self
                .pick(&[
                    "[45.0]",
                    "[45.0, -30.0, 1]",
                    "[85.1, 0]",
                    "[0, -181]",
                    "[\"45 E\", 0]",
                    "[0, \"12 60 E\"]",
                ])
                .to_owned(),
            Takes::Bends { most } => match self.below(2) {
                0 => format!("[{}]", vec!["[45.0, -30.0, 100.0]"; most + 1].join(", ")),
                _ => self
                    .pick(&["[[45.0, -30.0]]", "[[86, 0, 1]]", "[[0, 0, 5001]]", "[[0, 0, \"5 s\"]]"])
                    .to_owned(),
            },
            Takes::Word(_) => self.pick(&["\"no such word\"", "\"\"", "1"]).to_owned(),
            Takes::Flag => self.pick(&["\"true\"", "0"]).to_owned(),
            Takes::Text => self.pick(&["1", "true"]).to_owned(),
            Takes::File => self.pick(&["1", "\"\""]).to_owned(),
            Takes::Moment => self
                .pick(&[
                    "2031-05-17T19:05:00+02:00",
                    "2031-05-17",
                    "1979-12-31T23:59:59Z",
                    "2080-01-01T00:00:00Z",
                ])
                .to_owned(),
            Takes::RaceTime => self
                .pick(&[
                    "\"0:60\"",
                    "\"1440:00.1\"",
                    "\"+0:30\"",
                    "\"0:00.0000001\"",
                    "86401",
                    "-86401.5",
                    "\"5\"",
                ])
                .to_owned(),
        }
    }

    /// A text that is no number of this unit.
    fn bad_text(&mut self, unit: &str) -> String {
        let other = if measure::units_for(unit).contains(&"kg") { "mph" } else { "kg" };
        let texts = ["\"1\"", "\"1 blinks\"", "\"1,5 m\"", "\"m\"", "\" 1 s\"", &format!("\"1 {other}\"")];
        self.pick(&texts).to_owned()
    }
}

/// Is the key one of a row in a list of tables?
pub fn array_of(key: &Key) -> Option<&'static str> {
    key.table().strip_suffix("[]")
}
