//! Values that have been checked against their key, and how they become the program's own types.
//!
//! This file knows exact decimals and the units. Checked values in, typed fields out.

use firmware::calibration::Date;
use firmware::gnss::Position;
use firmware::run_in::lane::Bend;
use firmware::units::{
    CentiPercent, MilliCelsius, Millimetres, MmPerSecond, NanoDegrees, PartsPerBillion, Span, Utc,
};

use super::number::Decimal;

/// What stood behind an equals sign, already known to be what its key takes.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// A number, whole or not.
    Number(Decimal),
    /// A list of numbers.
    List(Vec<Decimal>),
    /// Latitude and longitude in degrees.
    Place(Decimal, Decimal),
    /// Bends: latitude, longitude in degrees, radius in metres.
    Bends(Vec<[Decimal; 3]>),
    /// A text, a word or a path.
    Text(String),
    /// True or false.
    Flag(bool),
    /// A moment in UTC.
    Moment(Utc),
    /// A day, by its first moment in UTC.
    Day(Utc),
    /// A race time.
    Time(Span),
}

/// A type that a value can become; `None` when it is another kind of value, which only a wrong table can cause.
pub trait FromValue: Sized {
    /// The value as this type, rounded to its unit.
    fn from_value(value: &Value) -> Option<Self>;
}

/// A type that can be written as a value; the other way of [`FromValue`].
pub trait IntoValue {
    /// The value, exactly; `None` for what is not there.
    fn to_value(&self) -> Option<Value>;
}

/// Numbers to quantities: a constructor of whole units, and how many decimals of the file's unit those are.
macro_rules! quantities {
    ($($name:ident :: $new:ident, $units:ident, $decimals:literal, $file_unit:literal);+ $(;)?) => {$(
        #[doc = concat!("From ", $file_unit, ".")]
        impl FromValue for $name {
            fn from_value(value: &Value) -> Option<Self> {
                let units = number(value)?.in_units($decimals);
                units.try_into().ok().map($name::$new)
            }
        }

        impl IntoValue for $name {
            fn to_value(&self) -> Option<Value> {
                Some(Value::Number(Decimal::of_units(self.$units().into(), $decimals)))
            }
        }
    )+};
}

quantities! {
    Millimetres::from_mm, as_mm, 3, "metres";
    MmPerSecond::from_mm_s, as_mm_s, 3, "metres per second";
    MilliCelsius::from_milli, as_milli, 3, "degrees Celsius";
    CentiPercent::from_centi, as_centi, 2, "percent";
    PartsPerBillion::from_ppb, as_ppb, 3, "parts per million";
}

impl FromValue for Span {
    fn from_value(value: &Value) -> Option<Self> {
        match value {
            Value::Time(span) => Some(*span),
            _ => number(value).map(|seconds| Self::from_micros(seconds.in_units(6))),
        }
    }
}

/// Whole numbers.
macro_rules! whole_numbers {
    ($($name:ident),+) => {$(
        impl FromValue for $name {
            fn from_value(value: &Value) -> Option<Self> {
                number(value)?.in_units(0).try_into().ok()
            }
        }

        impl IntoValue for $name {
            fn to_value(&self) -> Option<Value> {
                i64::try_from(*self).ok().map(|units| Value::Number(Decimal::whole(units)))
            }
        }
    )+};
}

whole_numbers!(u8, u16, u32, u64);

impl IntoValue for Span {
    fn to_value(&self) -> Option<Value> {
        Some(Value::Number(Decimal::of_units(self.as_micros(), 6)))
    }
}

impl IntoValue for bool {
    fn to_value(&self) -> Option<Value> {
        Some(Value::Flag(*self))
    }
}

impl<T: IntoValue> IntoValue for Option<T> {
    fn to_value(&self) -> Option<Value> {
        self.as_ref().and_then(T::to_value)
    }
}

impl IntoValue for Position {
    fn to_value(&self) -> Option<Value> {
        let [lat, lon] = degrees(self);
        Some(Value::Place(lat, lon))
    }
}

impl<const N: usize> IntoValue for heapless::Vec<Bend, N> {
    fn to_value(&self) -> Option<Value> {
        let bend = |bend: &Bend| {
            let [lat, lon] = degrees(&bend.centre);
            [lat, lon, Decimal::of_units(bend.radius.as_mm(), 3)]
        };
        Some(Value::Bends(self.iter().map(bend).collect()))
    }
}

impl<const N: usize> IntoValue for heapless::Vec<u16, N> {
    fn to_value(&self) -> Option<Value> {
        Some(Value::List(self.iter().map(|number| Decimal::whole((*number).into())).collect()))
    }
}

impl<const N: usize> IntoValue for heapless::Vec<MilliCelsius, N> {
    fn to_value(&self) -> Option<Value> {
        Some(Value::List(self.iter().map(|milli| Decimal::of_units(milli.as_milli().into(), 3)).collect()))
    }
}

fn degrees(position: &Position) -> [Decimal; 2] {
    [position.lat, position.lon].map(|nano| Decimal::of_units(nano.as_nano(), 9))
}

impl FromValue for f64 {
    fn from_value(value: &Value) -> Option<Self> {
        number(value).map(Decimal::to_f64)
    }
}

/// As written, for units that have no type of their own.
impl FromValue for Decimal {
    fn from_value(value: &Value) -> Option<Self> {
        number(value)
    }
}

impl FromValue for Vec<Decimal> {
    fn from_value(value: &Value) -> Option<Self> {
        let Value::List(list) = value else { return None };
        Some(list.clone())
    }
}

impl<const N: usize> FromValue for heapless::Vec<Bend, N> {
    fn from_value(value: &Value) -> Option<Self> {
        let Value::Bends(bends) = value else { return None };
        let bend = |[lat, lon, radius]: &[Decimal; 3]| Bend {
            centre: position(lat, lon),
            radius: Millimetres::from_mm(radius.in_units(3)),
        };
        (bends.len() <= N).then(|| bends.iter().map(bend).collect())
    }
}

impl<T: FromValue> FromValue for Option<T> {
    fn from_value(value: &Value) -> Option<Self> {
        T::from_value(value).map(Some)
    }
}

impl FromValue for Vec<f64> {
    fn from_value(value: &Value) -> Option<Self> {
        let Value::List(list) = value else { return None };
        Some(list.iter().map(|number| number.to_f64()).collect())
    }
}

impl<const N: usize> FromValue for heapless::Vec<u16, N> {
    fn from_value(value: &Value) -> Option<Self> {
        let Value::List(list) = value else { return None };
        let numbers: Option<Vec<_>> = list.iter().map(|number| number.in_units(0).try_into().ok()).collect();
        Self::from_slice(&numbers?).ok()
    }
}

impl<const N: usize> FromValue for heapless::Vec<MilliCelsius, N> {
    fn from_value(value: &Value) -> Option<Self> {
        let Value::List(list) = value else { return None };
        let degree = |number: &Decimal| i32::try_from(number.in_units(3)).ok().map(MilliCelsius::from_milli);
        let degrees: Option<Vec<_>> = list.iter().map(degree).collect();
        Self::from_slice(&degrees?).ok()
    }
}

impl FromValue for Position {
    fn from_value(value: &Value) -> Option<Self> {
        let Value::Place(lat, lon) = value else { return None };
        Some(position(lat, lon))
    }
}

impl FromValue for [f64; 2] {
    fn from_value(value: &Value) -> Option<Self> {
        let Value::Place(lat, lon) = value else { return None };
        Some([lat.to_f64(), lon.to_f64()])
    }
}

impl FromValue for String {
    fn from_value(value: &Value) -> Option<Self> {
        let Value::Text(text) = value else { return None };
        Some(text.clone())
    }
}

impl FromValue for bool {
    fn from_value(value: &Value) -> Option<Self> {
        let Value::Flag(flag) = value else { return None };
        Some(*flag)
    }
}

impl FromValue for Utc {
    fn from_value(value: &Value) -> Option<Self> {
        let Value::Moment(utc) = value else { return None };
        Some(*utc)
    }
}

impl IntoValue for Date {
    fn to_value(&self) -> Option<Value> {
        Some(Value::Day(Utc::from_unix_micros(i64::from(self.0) * 86_400_000_000)))
    }
}

impl FromValue for Date {
    fn from_value(value: &Value) -> Option<Self> {
        let Value::Day(midnight) = value else { return None };
        u16::try_from(midnight.as_unix_micros() / 86_400_000_000).ok().map(Self)
    }
}

fn position(lat: &Decimal, lon: &Decimal) -> Position {
    let nano = |degrees: &Decimal| NanoDegrees::from_nano(degrees.in_units(9));
    Position { lat: nano(lat), lon: nano(lon) }
}

fn number(value: &Value) -> Option<Decimal> {
    let Value::Number(number) = value else { return None };
    Some(*number)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read<T: FromValue>(text: &str) -> T {
        T::from_value(&Value::Number(Decimal::parse(text).unwrap())).unwrap()
    }

    /// By the units' definitions alone.
    #[test]
    fn every_unit_of_a_file_becomes_whole_units_exactly() {
        assert_eq!(read::<Millimetres>("4023.36"), Millimetres::from_mm(4_023_360));
        assert_eq!(read::<MmPerSecond>("44.704"), MmPerSecond::from_mm_s(44_704));
        assert_eq!(read::<MilliCelsius>("-0.5"), MilliCelsius::from_milli(-500));
        assert_eq!(read::<CentiPercent>("102.45"), CentiPercent::from_centi(10_245));
        assert_eq!(read::<PartsPerBillion>("0.017"), PartsPerBillion::from_ppb(17));
        assert_eq!(read::<Span>("0.25"), Span::from_millis(250));
        assert_eq!(read::<u64>("9223372036854775807"), 9_223_372_036_854_775_807);
        let (lat, lon) = (Decimal::parse("45").unwrap(), Decimal::parse("-29.998000001").unwrap());
        let place = Position::from_value(&Value::Place(lat, lon)).unwrap();
        assert_eq!((place.lat.as_nano(), place.lon.as_nano()), (45_000_000_000, -29_998_000_001));
    }
}
