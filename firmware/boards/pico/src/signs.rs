//! Lamps, beeper and the Pico's own light: what the loop wants them to do becomes pulse widths.
//!
//! Knows the PWM slices. A pin on another slice than `pins.toml` says does not compile. Levels in, nothing out.

use embedded_hal::digital::OutputPin;
use embedded_hal::pwm::SetDutyCycle;
use firmware::alerts::cues::Pitch;
use firmware::io::lamps::Lit;
use rp2040_hal::gpio::{FunctionPwm, FunctionSioOutput, Pin, PullNone, bank0};
use rp2040_hal::pwm::{self, FreeRunning, Pwm3, Pwm5};

/// The beeper's counter runs at 125 MHz over this: 7,812,500 a second, so that both pitches fit 16 bits.
const BEEPER_DIVIDER: u8 = 16;
const BEEPER_HZ: u32 = crate::SYSTEM_HZ / BEEPER_DIVIDER as u32;

/// The lamps' counter: 125 MHz over 125 and 1,000 steps are 1,000 a second, which no eye sees flicker.
const LAMP_DIVIDER: u8 = 125;
const LAMP_STEPS: u16 = 1_000;

type Output<Gpio> = Pin<Gpio, FunctionPwm, PullNone>;

/// Everything that is seen or heard beside the display.
pub struct Signs {
    beeper: pwm::Slice<Pwm3, FreeRunning>,
    lamps: pwm::Slice<Pwm5, FreeRunning>,
    heartbeat: Pin<bank0::Gpio25, FunctionSioOutput, PullNone>,
    sounding: Option<Pitch>,
}

impl Signs {
    /// Dark and silent.
    pub fn new(
        slices: pwm::Slices,
        beeper: Output<bank0::Gpio22>,
        (warning, caution): (Output<bank0::Gpio26>, Output<bank0::Gpio27>),
        heartbeat: Pin<bank0::Gpio25, FunctionSioOutput, PullNone>,
    ) -> Self {
        let (mut sound, mut lamps) = (slices.pwm3, slices.pwm5);
        sound.default_config();
        sound.set_div_int(BEEPER_DIVIDER);
        sound.channel_a.output_to(beeper);
        lamps.default_config();
        lamps.set_div_int(LAMP_DIVIDER);
        lamps.set_top(LAMP_STEPS - 1);
        lamps.channel_a.output_to(warning);
        lamps.channel_b.output_to(caution);
        lamps.enable();
        Self { beeper: sound, lamps, heartbeat, sounding: None }
    }

    /// Lights the lamps, so many percent of the time.
    pub fn light(&mut self, lit: Lit, percent: u8) {
        let steps = LAMP_STEPS / 100 * u16::from(percent.min(100));
        let width = |lit: bool| if lit { steps } else { 0 };
        // A width beyond the counter's end is lit without a break.
        let Ok(()) = self.lamps.channel_a.set_duty_cycle(width(lit.warning));
        let Ok(()) = self.lamps.channel_b.set_duty_cycle(width(lit.caution));
    }

    /// Sounds so high, or not at all.
    pub fn sound(&mut self, pitch: Option<Pitch>) {
        if self.sounding == pitch {
            return;
        }
        self.sounding = pitch;
        let Some(pitch) = pitch else {
            let Ok(()) = self.beeper.channel_a.set_duty_cycle(0);
            return;
        };
        let period = u16::try_from(BEEPER_HZ / u32::from(pitch.hertz())).unwrap_or(u16::MAX);
        self.beeper.set_top(period - 1);
        let Ok(()) = self.beeper.channel_a.set_duty_cycle(period / 2);
        self.beeper.enable();
    }

    /// The Pico's own light.
    pub fn beat(&mut self, lit: bool) {
        let Ok(()) = self.heartbeat.set_state(lit.into());
    }
}
