//! Files of other forms, as the reader meets them: newer ones are refused, keys of older ones taken under their new
//! names.
//!
//! Knows the forms and the reader.

use std::borrow::Cow;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::super::forms::FORM;
use super::super::number::Decimal;
use super::super::report::Mistake;
use super::super::value::Value;
use super::{Reading, right_for};

impl Reading {
    /// A file of a newer form is refused whole, and so is one of a form that never was.
    pub(super) fn knows_form(&mut self, table: &DeTable<'_>) -> bool {
        let Some(key) = self.keys.iter().find(|key| key.path == "form") else { return true };
        let Some((name, value)) = table.iter().find(|(name, _)| name.get_ref() == "form") else {
            return true;
        };
        let oldest = self.renamed.iter().map(|key| key.until).min().unwrap_or(FORM).min(FORM);
        let number = number_text(value.get_ref()).and_then(Decimal::parse).filter(|form| form.is_whole());
        let form = number.map(|form| form.in_units(0));
        self.written.insert("form".to_owned(), value.span());
        let (what, right) = match form {
            Some(form) if (oldest..=FORM).contains(&form) => {
                self.form = form;
                self.values.insert("form".to_owned(), Value::Number(Decimal::whole(form)));
                return true;
            }
            Some(form) if form > FORM => (
                format!("this file is of form {form}, and this program reads forms up to {FORM}"),
                "use a newer gunline; nothing of the file was read, so that nothing is misread".to_owned(),
            ),
            Some(form) => (format!("there is no form {form}"), right_for(key)),
            None => ("`form` is no form's number".to_owned(), right_for(key)),
        };
        let at = name.span().start..value.span().end;
        self.mistakes.push(Mistake::at(&self.source, at, what, right).of_key("form"));
        false
    }

    /// A key of an older form, taken under its new name, if the file is of such a form; else what to write.
    pub(super) fn renamed(
        &mut self,
        general: &str,
        name: &Spanned<Cow<'_, str>>,
        value: &Spanned<DeValue<'_>>,
    ) -> bool {
        let Some(old) = self.renamed.iter().find(|old| old.was == general) else { return false };
        let Some(key) = self.keys.iter().find(|key| key.path == old.is) else { return false };
        let measure = number_text(value.get_ref())
            .filter(|_| !old.unit.is_empty())
            .map(|number| format!("{number} {}", old.unit));
        let written = measure.as_ref().map_or_else(
            || self.source.text.get(value.span()).unwrap_or_default().to_owned(),
            |text| format!("\"{text}\""),
        );
        let right = format!("write in [{}]: {} = {written}", key.table(), key.name());
        let at = name.span();
        if self.form > old.until {
            let what =
                format!("`{}` was called so until form {}: it is `{}` now", old.was, old.until, old.is);
            self.meant.push(old.is.to_owned());
            self.mistakes.push(Mistake::at(&self.source, at, what, right).of_key(old.was));
        } else if self.has(old.is) {
            let what = format!("`{}` and `{}` are the same key", old.was, old.is);
            self.mistakes.push(Mistake::at(&self.source, at, what, "take out the old one").of_key(old.was));
        } else {
            let what = format!("`{}` of form {} is read as `{}`", old.was, self.form, old.is);
            self.notes.push(Mistake::at(&self.source, at, what, right).of_key(old.was));
            let text = measure.map(|text| Spanned::new(value.span(), DeValue::String(Cow::Owned(text))));
            self.tables.entry(key.table().to_owned()).or_insert_with(|| value.span());
            self.check(key, old.is, text.as_ref().unwrap_or(value));
        }
        true
    }
}

/// A number as it is written.
fn number_text<'a>(value: &'a DeValue<'_>) -> Option<&'a str> {
    match value {
        DeValue::Integer(number) => Some(number.as_str()),
        DeValue::Float(number) => Some(number.as_str()),
        _ => None,
    }
}
