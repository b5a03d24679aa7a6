//! What the dash's panel does at a moment: the picture, both lamps, the beeper. All of it is the firmware's own.
//!
//! Decisions and views in, pixels, lamps and a pitch out.

use firmware::io::lamps::{Lamps, Lit};
use firmware::io::sounder::Sounder;
use firmware::output::Output;
use firmware::screen::{Frame, ScreenSettings, draw};
use firmware::units::Instant;
use firmware::view::View;

/// Lamps and beeper between two looks.
#[derive(Clone, Debug, Default)]
pub struct Panel {
    lamps: Lamps,
    sounder: Sounder,
}

/// The panel at a moment.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Look {
    /// The picture; dark while the board is off.
    pub frame: Frame,
    /// Which lamps are lit.
    pub lit: Lit,
    /// How high the beeper sounds, hertz; 0 for silence.
    pub hertz: u16,
}

impl Panel {
    /// The dash decided something.
    pub fn hear(&mut self, at: Instant, decided: &Output) {
        self.sounder.hear(at, decided);
    }

    /// What it does now.
    pub fn look(&mut self, now: Option<&(Instant, View)>, settings: &ScreenSettings) -> Look {
        let Some((at, view)) = now else { return Look::default() };
        self.lamps.show(*at, view.alert, view.caution);
        Look {
            frame: draw(view, settings),
            lit: self.lamps.lit(*at),
            hertz: self.sounder.sound(*at).map_or(0, |pitch| pitch.hertz()),
        }
    }
}
