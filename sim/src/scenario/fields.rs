//! A settings file's keys and the fields that they are for, bound once and used both ways.
//!
//! What fills the settings from a file is generic over [`Fields`]: with a [`Reading`] it takes each field from the
//! file, with a [`Writing`] it gives each field to it. So no key can be read and not written.
//!
//! Knows the reader and values.

use std::cell::RefCell;
use std::collections::BTreeMap;

use super::number::Decimal;
use super::reader::Reading;
use super::value::{FromValue, IntoValue, Value};

/// Where fields come from, or where they go.
pub trait Fields {
    /// One key and its field.
    fn set<T: FromValue + IntoValue>(&self, path: &str, field: &mut T);

    /// The same for a field of whole units, smaller by so many decimals than the file's unit.
    fn scaled<T: Copy + TryFrom<i64> + Into<i64>>(&self, path: &str, decimals: u32, field: &mut T);
}

impl Fields for Reading {
    fn set<T: FromValue + IntoValue>(&self, path: &str, field: &mut T) {
        Self::set(self, path, field);
    }

    fn scaled<T: Copy + TryFrom<i64> + Into<i64>>(&self, path: &str, decimals: u32, field: &mut T) {
        let number = self.get::<Decimal>(path).map(|number| number.in_units(decimals));
        if let Some(number) = number.and_then(|number| T::try_from(number).ok()) {
            *field = number;
        }
    }
}

/// Values of fields by their keys.
#[derive(Debug, Default)]
pub struct Writing(RefCell<BTreeMap<String, Value>>);

impl Writing {
    /// A value that no field holds as such.
    pub fn put(&self, path: impl Into<String>, value: Value) {
        self.0.borrow_mut().insert(path.into(), value);
    }

    /// All of them.
    pub fn into_values(self) -> BTreeMap<String, Value> {
        self.0.into_inner()
    }
}

impl Fields for Writing {
    fn set<T: FromValue + IntoValue>(&self, path: &str, field: &mut T) {
        if let Some(value) = field.to_value() {
            self.put(path, value);
        }
    }

    fn scaled<T: Copy + TryFrom<i64> + Into<i64>>(&self, path: &str, decimals: u32, field: &mut T) {
        self.put(path, Value::Number(Decimal::of_units((*field).into(), decimals)));
    }
}
