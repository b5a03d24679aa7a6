//! The parts of one moment come together: RMC, GGA, VTG and ZDA become at most one fix.
//!
//! Rules, in the order of the stream:
//!
//! * An RMC makes a fix at once. Its HDOP is that of the last GGA, if their times of day are at most 2 s
//!   apart.
//! * A GGA waits for the VTG that follows it. Together they make a fix if no RMC has been heard since that
//!   GGA nor for a time of day within 2 s of it: while there is RMC in the stream, GGA only lends its HDOP.
//! * That fix takes its date from the last dated moment (ZDA, or RMC that the receiver vouches for): it is
//!   the moment nearest to it with the GGA's time of day. Without a date the pair waits for a ZDA.
//! * An RMC for the very moment of such a fix makes no second one. That happens when a stream begins with
//!   GGA, VTG and ZDA before its first RMC.
//!
//! A VTG bears no time: a receiver that sends it before GGA, and no RMC, is given the next epoch's speed.
//!
//! This file knows the sentences and the calendar.

use super::Fix;
use super::calendar::TimeOfDay;
use super::nmea::{Gga, Rmc, Sentence, Vtg, fix};
use crate::units::{Span, Utc};

/// The most that two times of day may differ and still speak of the same state of affairs.
const NEAR: Span = Span::from_secs(2);

/// What earlier sentences leave for later ones.
#[derive(Clone, Debug, Default)]
pub(super) struct Epoch {
    /// From the last GGA.
    hdop: Option<(TimeOfDay, u16)>,
    /// The last GGA, as long as it waits.
    gga: Option<Gga>,
    /// The VTG that followed it, as long as both wait for a date.
    vtg: Option<Vtg>,
    /// From the last RMC.
    rmc: Option<TimeOfDay>,
    /// The last moment whose date is known.
    dated: Option<Utc>,
    /// The moment of the last good fix made without an RMC.
    made: Option<Utc>,
}

impl Epoch {
    /// Takes a sentence and gives the fix that it completes.
    pub(super) fn take(&mut self, sentence: Sentence) -> Option<Fix> {
        match sentence {
            Sentence::Rmc(rmc) => return self.rmc(&rmc),
            Sentence::Gga(gga) => self.gga(gga),
            Sentence::Vtg(vtg) => self.vtg = Some(vtg),
            Sentence::Zda(zda) => self.dated = zda.moment.or(self.dated),
        }
        self.pair()
    }

    fn rmc(&mut self, rmc: &Rmc) -> Option<Fix> {
        self.rmc = rmc.time.or(self.rmc);
        self.gga = None;
        let mut fix = rmc.fix.filter(|fix| self.made != Some(fix.utc))?;
        if fix.valid {
            self.dated = Some(fix.utc);
        }
        fix.hdop_centi = self.hdop.filter(|(time, _)| near(*time, rmc.time)).map(|(_, hdop)| hdop);
        Some(fix)
    }

    fn gga(&mut self, gga: Gga) {
        self.hdop = gga.time.zip(gga.hdop_centi);
        self.gga = Some(gga);
        self.vtg = None;
    }

    /// The fix of a GGA and its VTG, once there are both and a date.
    fn pair(&mut self) -> Option<Fix> {
        let (gga, vtg, dated) = (self.gga?, self.vtg?, self.dated?);
        self.gga = None;
        let (time, position) = (gga.time?, gga.position?);
        if near(time, self.rmc) || vtg.speed.is_none() {
            return None;
        }
        let utc = time.nearest(dated);
        if gga.valid {
            self.dated = Some(utc);
            self.made = Some(utc);
        }
        Some(Fix { hdop_centi: gga.hdop_centi, ..fix(utc, position, vtg, gga.valid) })
    }
}

/// True if the two times of day are at most 2 s apart.
fn near(time: TimeOfDay, other: Option<TimeOfDay>) -> bool {
    other.is_some_and(|other| time.apart(other) <= NEAR)
}

#[cfg(test)]
mod tests {
    //! The rules above, one test each. Sentences are invented; the rules are this project's own.

    extern crate std;

    use std::string::{String, ToString};
    use std::vec::Vec;

    use super::super::calendar::rfc3339;
    use super::super::test_stream::fixes;

    const VTG: &str = "GPVTG,070.5,T,,M,10.0,N,18.5,K,A";

    fn gga(time: &str, hdop: &str) -> String {
        std::format!("GPGGA,{time},4500.000,N,03000.000,W,1,08,{hdop},1.0,M,0.0,M,,")
    }

    fn rmc(time: &str) -> String {
        std::format!("GPRMC,{time},A,4500.000,N,03000.000,W,10.0,070.5,170531,,,A")
    }

    fn zda(time: &str) -> String {
        std::format!("GPZDA,{time},17,05,2031,00,00")
    }

    fn moments(contents: &[&str]) -> Vec<String> {
        fixes(contents).iter().map(|fix| rfc3339(fix.utc).to_string()).collect()
    }

    #[test]
    fn an_rmc_takes_the_hdop_of_a_gga_at_most_two_seconds_away() {
        let hdop = |gga_time| fixes(&[&gga(gga_time, "1.25"), &rmc("120002.00")])[0].hdop_centi;
        assert_eq!(hdop("120002.00"), Some(125));
        assert_eq!(hdop("120000.00"), Some(125));
        assert_eq!(hdop("115959.99"), None);
        assert_eq!(fixes(&[&rmc("120002.00"), &gga("120002.00", "1.25")])[0].hdop_centi, None);
    }

    #[test]
    fn a_gga_without_hdop_takes_back_the_one_before() {
        let last = fixes(&[&gga("120000", "1.0"), &gga("120001", ""), &rmc("120001")]);
        assert_eq!(last[0].hdop_centi, None);
    }

    #[test]
    fn without_rmc_a_gga_and_the_vtg_after_it_make_a_fix_once_a_zda_gave_the_date() {
        let now = ["2031-05-17T12:00:00.000Z"];
        assert_eq!(moments(&[&zda("120000"), &gga("120000", "1"), VTG]), now);
        assert_eq!(moments(&[&gga("120000", "1"), &zda("120000"), VTG]), now);
        assert_eq!(moments(&[&gga("120000", "1"), VTG, &zda("120000")]), now);
        assert_eq!(moments(&[&gga("120000", "1"), VTG]), [""; 0]);
        assert_eq!(moments(&[&zda("120000"), VTG, &gga("120000", "1")]), [""; 0]);
        let fix = fixes(&[&zda("120000"), &gga("120000", "1.3"), VTG])[0];
        // 10 knots are 18.52 km/h, or 5144.4 mm/s, by definition of the nautical mile.
        assert_eq!((fix.speed.as_mm_s(), fix.course.as_centi()), (5_144, 7_050));
        assert_eq!((fix.hdop_centi, fix.valid), (Some(130), true));
    }

    #[test]
    fn one_zda_carries_the_date_across_midnight() {
        let [late, early] = [gga("235959.90", "1"), gga("000000.00", "1")];
        assert_eq!(
            moments(&[&zda("235959"), &late, VTG, &early, VTG]),
            ["2031-05-17T23:59:59.900Z", "2031-05-18T00:00:00.000Z"]
        );
    }

    #[test]
    fn one_zda_carries_the_date_through_the_days() {
        let hours = ["120000", "220000", "080000", "180000"].map(|time| gga(time, "1"));
        let mut stream = std::vec![zda("120000")];
        stream.extend(hours.iter().flat_map(|gga| [gga.clone(), VTG.to_string()]));
        let stream: Vec<&str> = stream.iter().map(String::as_str).collect();
        assert_eq!(moments(&stream).last().unwrap(), "2031-05-18T18:00:00.000Z");
    }

    #[test]
    fn while_there_is_rmc_gga_and_vtg_make_no_fix_of_their_own() {
        let (one, two) = (gga("120001", "1"), gga("120002", "1"));
        assert_eq!(moments(&[&rmc("120000"), &one, VTG, &two, VTG]).len(), 1);
        let (three, wrapped) = (gga("120003", "1"), gga("000001", "1"));
        assert_eq!(moments(&[&rmc("120000"), &three, VTG]).len(), 2);
        assert_eq!(moments(&[&rmc("235959"), &wrapped, VTG]).len(), 1);
    }

    #[test]
    fn a_gga_whose_rmc_came_waits_no_longer() {
        let later = rmc("130000");
        assert_eq!(moments(&[&gga("120000", "1"), &rmc("120000"), &later, VTG]).len(), 2);
    }

    #[test]
    fn the_first_epoch_makes_one_fix_when_zda_comes_before_rmc() {
        let stream = [&gga("120000", "1"), VTG, &zda("120000"), &rmc("120000"), &gga("120001", "1"), VTG];
        assert_eq!(moments(&stream), ["2031-05-17T12:00:00.000Z"]);
    }

    #[test]
    fn quality_zero_makes_a_fix_that_nobody_vouches_for_or_none() {
        let placed = "GPGGA,120000,4500.000,N,03000.000,W,0,00,99.99,,M,,M,,";
        assert!(!fixes(&[&zda("120000"), placed, VTG])[0].valid);
        let nowhere = "GPGGA,120000,,,,,0,00,99.99,,M,,M,,";
        assert_eq!(moments(&[&zda("120000"), nowhere, VTG]), [""; 0]);
    }

    #[test]
    fn a_vtg_without_speed_makes_no_fix_and_km_h_stand_in_for_knots() {
        let empty = "GPVTG,,T,,M,,N,,K,N";
        assert_eq!(moments(&[&zda("120000"), &gga("120000", "1"), empty]), [""; 0]);
        // 36 km/h are 10 m/s.
        let km_h = "GPVTG,,T,,M,,N,36.0,K,A";
        assert_eq!(fixes(&[&zda("120000"), &gga("120000", "1"), km_h])[0].speed.as_mm_s(), 10_000);
    }
}
