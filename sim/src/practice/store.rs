//! The history: every start with its files, in one SQLite file on this machine, and nowhere else.
//!
//! A start is kept in one transaction with full synchronising, so that a killed server or a flat battery loses no start
//! that was over. Two servers may have the file open at once: one waits for the other.
//!
//! Starts in; rows, reviews and files out. Knows the review's words.

use std::fmt::Write as _;
use std::path::Path;
use std::time::Duration;

use rusqlite::{Connection, OptionalExtension, Row as SqlRow, params};
use serde::{Deserialize, Serialize};

use super::plan::Files;
use super::review::{Review, Start};

/// The form of the file; another number is another program's, or a later one's.
const FORM: i64 = 1;
/// How long one server waits for another.
const WAITS: Duration = Duration::from_secs(5);

const TABLES: &str = "
create table if not exists start (
    id integer primary key,
    at_ms integer not null,
    length_s integer not null,
    mode text not null,
    steered integer not null,
    call text,
    margin_us integer,
    lost_m real,
    speed_m_s real,
    reactions_us text not null,
    digest text not null,
    review text not null,
    files text not null,
    journal blob not null
) strict;";

/// One start in the list.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Row {
    /// Its number.
    pub id: i64,
    /// When it was kept: milliseconds since 1970 by this machine's clock.
    pub at_ms: i64,
    /// Seconds from the first gun to zero.
    pub length_s: u16,
    /// What made it harder.
    pub mode: String,
    /// With steering help.
    pub steered: bool,
    /// The dash's call.
    pub call: Option<String>,
    /// The true margin.
    pub margin_us: Option<i64>,
    /// Metres lost against the ideal.
    pub lost_m: Option<f64>,
    /// Speed over the line.
    pub speed_m_s: Option<f64>,
    /// How late each press at a gun was.
    pub reactions_us: Vec<i64>,
    /// Of the dash's decisions.
    pub digest: String,
}

/// What the store can say when it fails.
#[derive(Debug, thiserror::Error)]
pub enum Trouble {
    /// The database refused.
    #[error("the history: {0}")]
    Database(#[from] rusqlite::Error),
    /// What is in it cannot be read.
    #[error("the history holds what this program did not write: {0}")]
    Form(#[from] serde_json::Error),
    /// A file of another form.
    #[error("the history is of form {0}; this program reads form {FORM}")]
    Version(i64),
}

/// The history's file.
#[derive(Debug)]
pub struct Store(Connection);

impl Store {
    /// Opens the file, or makes it.
    ///
    /// # Errors
    /// When it cannot be, or is of another form.
    pub fn open(path: &Path) -> Result<Self, Trouble> {
        Self::on(Connection::open(path)?)
    }

    /// A history that is gone with the program, for tests.
    ///
    /// # Errors
    /// The database's own.
    pub fn in_memory() -> Result<Self, Trouble> {
        Self::on(Connection::open_in_memory()?)
    }

    fn on(connection: Connection) -> Result<Self, Trouble> {
        connection.busy_timeout(WAITS)?;
        connection.pragma_update(None, "journal_mode", "wal")?;
        connection.pragma_update(None, "synchronous", "full")?;
        let form: i64 = connection.pragma_query_value(None, "user_version", |row| row.get(0))?;
        if form != 0 && form != FORM {
            return Err(Trouble::Version(form));
        }
        connection.execute_batch(TABLES)?;
        connection.pragma_update(None, "user_version", FORM)?;
        Ok(Self(connection))
    }

    /// Keeps a start; its number.
    ///
    /// # Errors
    /// The database's own.
    pub fn keep(&self, start: &Start, at_ms: i64) -> Result<i64, Trouble> {
        let review = &start.review;
        let reactions: Vec<i64> = review.reactions.iter().map(|reaction| reaction.late_us).collect();
        self.0.execute(
            "insert into start (at_ms, length_s, mode, steered, call, margin_us, lost_m, speed_m_s, reactions_us, digest, \
             review, files, journal) values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            params![
                at_ms,
                review.plan.length.seconds(),
                crate::words::kebab(review.plan.mode),
                review.plan.steered,
                review.call.as_ref().map(|call| &call.call),
                review.margin_us,
                review.lost.map(|lost| lost.metres),
                review.speed_m_s,
                serde_json::to_string(&reactions)?,
                review.digest,
                serde_json::to_string(review)?,
                serde_json::to_string(&start.files)?,
                start.journal,
            ],
        )?;
        Ok(self.0.last_insert_rowid())
    }

    /// Every start, oldest first.
    ///
    /// # Errors
    /// The database's own.
    pub fn rows(&self) -> Result<Vec<Row>, Trouble> {
        let mut asked = self.0.prepare(
            "select id, at_ms, length_s, mode, steered, call, margin_us, lost_m, speed_m_s, reactions_us, digest \
             from start order by id",
        )?;
        let rows = asked.query_map([], row)?;
        rows.map(|row| Ok(row?)).collect()
    }

    /// The review of a start.
    ///
    /// # Errors
    /// The database's own, or what is in it cannot be read.
    pub fn review(&self, id: i64) -> Result<Option<Review>, Trouble> {
        let text: Option<String> = self.one("select review from start where id = ?", id)?;
        Ok(text.map(|text| serde_json::from_str(&text)).transpose()?)
    }

    /// The files of a start.
    ///
    /// # Errors
    /// As [`review`](Self::review).
    pub fn files(&self, id: i64) -> Result<Option<Files>, Trouble> {
        let text: Option<String> = self.one("select files from start where id = ?", id)?;
        Ok(text.map(|text| serde_json::from_str(&text)).transpose()?)
    }

    /// What the dash recorded in a start.
    ///
    /// # Errors
    /// The database's own.
    pub fn journal(&self, id: i64) -> Result<Option<Vec<u8>>, Trouble> {
        self.one("select journal from start where id = ?", id)
    }

    fn one<T: rusqlite::types::FromSql>(&self, ask: &str, id: i64) -> Result<Option<T>, Trouble> {
        Ok(self.0.query_row(ask, [id], |row| row.get(0)).optional()?)
    }
}

fn row(row: &SqlRow<'_>) -> rusqlite::Result<Row> {
    let reactions: String = row.get(9)?;
    Ok(Row {
        id: row.get(0)?,
        at_ms: row.get(1)?,
        length_s: row.get(2)?,
        mode: row.get(3)?,
        steered: row.get(4)?,
        call: row.get(5)?,
        margin_us: row.get(6)?,
        lost_m: row.get(7)?,
        speed_m_s: row.get(8)?,
        reactions_us: serde_json::from_str(&reactions).unwrap_or_default(),
        digest: row.get(10)?,
    })
}

/// The history as a table for other programs: comma-separated values as RFC 4180 has them.
#[must_use]
pub fn csv(rows: &[Row]) -> String {
    let mut text = String::from(
        "id,at_ms,length_s,mode,steered,call,margin_us,lost_m,speed_m_s,reactions_us,digest\r\n",
    );
    let number = |value: Option<f64>| value.map_or(String::new(), |value| format!("{value:.3}"));
    for row in rows {
        let reactions: Vec<String> = row.reactions_us.iter().map(i64::to_string).collect();
        let _ = write!(
            text,
            "{},{},{},{},{},{},{},{},{},{},{}\r\n",
            row.id,
            row.at_ms,
            row.length_s,
            row.mode,
            row.steered,
            row.call.as_deref().unwrap_or_default(),
            row.margin_us.map_or(String::new(), |us| us.to_string()),
            number(row.lost_m),
            number(row.speed_m_s),
            reactions.join(" "),
            row.digest,
        );
    }
    text
}
