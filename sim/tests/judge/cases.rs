//! The ten stories of the exercises. What each comes to was worked out by hand, in the text beside its journal.

use firmware::input::{Input, Line};
use firmware::journal::{Entry, Reader, Record};
use firmware::laps::EarlyCost;
use firmware::units::{NanoDegrees, Span};

use super::story::{Story, settings};

/// A story's name, and the journal that it makes.
pub type Case = (&'static str, fn() -> Vec<u8>);

/// All ten.
pub const CASES: [Case; 10] = [
    ("01-legal", legal),
    ("02-early", early),
    ("03-too-close", too_close),
    ("04-restarted", restarted),
    ("05-schedule", schedule),
    ("06-contact-and-press", contact_and_press),
    ("07-missed-lap", missed_lap),
    ("08-time-penalty", time_penalty),
    ("09-altered", altered),
    ("10-torn-tail", torn_tail),
];

/// The board is on from ten seconds before the first gun; the boat mills before the line.
fn before_the_start(until_s: i32) -> Story {
    Story::default().pulses(-309, until_s).milling(-308, -3)
}

/// The presses of the law book's first worked example.
fn two_presses(story: Story) -> Story {
    story.press(Line::Button, -299.730).press(Line::Button, -59.790)
}

/// A start, and so many laps of 60 s.
fn laps(story: Story, third_s: f64, laps: u32) -> Story {
    (0..laps).fold(story.crossing(third_s), |story, lap| story.lap(third_s + 60.0 * f64::from(lap)))
}

pub fn legal() -> Vec<u8> {
    laps(two_presses(before_the_start(125)), 0.1, 2).told(&settings(), None, None)
}

fn early() -> Vec<u8> {
    laps(two_presses(before_the_start(185)), -0.3, 3).told(&settings(), None, None)
}

fn too_close() -> Vec<u8> {
    laps(two_presses(before_the_start(125)), 0.0, 2).told(&settings(), None, None)
}

pub fn restarted() -> Vec<u8> {
    laps(two_presses(before_the_start(125)), 0.1, 2).told(&settings(), Some(-30.5), None)
}

fn schedule() -> Vec<u8> {
    laps(before_the_start(125).schedule(-200.5, 0.0), 0.0, 2).told(&settings(), None, None)
}

fn contact_and_press() -> Vec<u8> {
    let guns = before_the_start(185).press(Line::Button, -299.730).press(Line::GunContact, -60.0);
    laps(guns, -0.1, 3).told(&settings(), None, None)
}

fn missed_lap() -> Vec<u8> {
    let start = two_presses(before_the_start(185)).crossing(0.1).round_and_lost(0.1);
    // From 63 s on: past the line and round to the crossing at 120.1 s.
    let second = (68..=112).step_by(4).fold(start, |story, s| {
        let place = if s < 88 { (500.0, 3_000.0) } else { (-500.0, 3_000.0) };
        story.fix(f64::from(s) + 0.1, place, 60.0)
    });
    let second = second.fix(116.1, (-500.0, 0.0), 60.0).crossing(120.1);
    second.lap(120.1).told(&settings(), None, None)
}

fn time_penalty() -> Vec<u8> {
    let mut settings = settings();
    settings.race.early_costs = EarlyCost::Time(Span::from_secs(15));
    laps(two_presses(before_the_start(125)), -0.3, 2).told(&settings, None, None)
}

/// The first story's journal, in which somebody has moved the fourth fix of the start by a metre, and has put the check
/// sum right.
fn altered() -> Vec<u8> {
    let mut journal = legal();
    let is_fourth = |input: &Input| matches!(input, Input::Fix(fix) if fix.utc == super::story::utc(0.2));
    let (offset, sequence, moved) = Reader::new(&journal)
        .find_map(|entry| match entry {
            Entry::Record { offset, sequence, record: Record::Input { after, input } }
                if is_fourth(&input) =>
            {
                let Input::Fix(mut fix) = input else { return None };
                fix.position.lat = fix.position.lat - NanoDegrees::from_nano(9_000);
                Some((offset, sequence, Record::Input { after, input: Input::Fix(fix) }))
            }
            _ => None,
        })
        .unwrap();
    let frame = frame(sequence, &moved);
    journal[offset..offset + frame.len()].copy_from_slice(&frame);
    journal
}

/// A record in a frame with its check sum right.
pub fn frame(sequence: u8, record: &Record) -> Vec<u8> {
    let content = postcard::to_allocvec(record).unwrap();
    let mut frame = vec![u8::try_from(content.len()).unwrap(), sequence];
    frame.extend(content);
    let sum = crc::Crc::<u16>::new(&crc::CRC_16_IBM_SDLC).checksum(&frame);
    frame.extend(sum.to_le_bytes());
    frame
}

/// The first story's journal as a cut of power at 100 s of race time leaves it: in the middle of a record.
fn torn_tail() -> Vec<u8> {
    let journal = legal();
    let is_cut = |input: &Input| matches!(input, Input::Fix(fix) if fix.utc == super::story::utc(100.1));
    let place = Reader::new(&journal).find_map(|entry| match entry {
        Entry::Record { offset, record: Record::Input { input, .. }, .. } if is_cut(&input) => Some(offset),
        _ => None,
    });
    journal[..place.unwrap() + 17].to_vec()
}
