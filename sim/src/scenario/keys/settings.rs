//! The keys of a settings file: what the dash must be told.
//!
//! Ranges are never wider than those of the core, and a test holds them against each other.

use super::super::forms::FORM;
use super::Otherwise::{Is, Means, Needed, NeededInItsTable};
use super::Takes::{Bends, Day, Flag, List, Place, Word};
use super::{DIFFERENCE, Key, Otherwise, Takes, key, number, whole};

/// Seconds of a signal or a count.
const SECONDS: Takes = whole("s", 0, 3_600);

/// How long a value may stay above its limit: up to a day.
const ALLOWED: Takes = number("s", "0", "86400");

/// Speeds at which the boat's pull is given.
const PULL_SPEED: Takes = number("m/s", "0", "131");

/// The pull at one of them.
const PULL: Takes = number("m/s2", "0", "20");

/// An edge between bands of temperature.
const BAND: Takes = number("degrees C", "0", "1372");

const INVENTED: Otherwise = Means("an invented boat, and the screen says DEMO");

const DEMONSTRATION: Otherwise = Means("the demonstration table");

/// Every key, in the order of `docs/settings.md`.
#[rustfmt::skip]
pub const KEYS: &[Key] = &[
    key("form", whole("", FORM, FORM), Is("1"),
        "The form that the file is written in. A newer one is refused, an older one is read and told."),
    key("course.line_left", Place, Needed("[45.0, -30.0]"),
        "The start line's left end, as seen by a boat that crosses in racing direction."),
    key("course.line_right", Place, Needed("[45.0, -29.998]"),
        "Its right end. The line is 5 m to 5 km long."),
    key("course.lap_length_m", number("m", "100", "100000"), Needed("4023.36"),
        "The official length of a lap; lap speeds are made with it. 2.5 statute miles are 4023.36 m."),
    key("course.laps", whole("laps", 1, 100), Is("3"),
        "Laps to run (common practice, no source)."),
    key("course.line_sd_m", number("m", "0", "100"), Is("0.1"),
        "How well the ends are known: one standard deviation, across the line (common practice, no source)."),
    key("course.end_tolerance_m", number("m", "0", "100"), Is("2.0"),
        "How far beyond an end the bow may pass and still have crossed (common practice, no source)."),
    key("rules.signals_s", List { each: &SECONDS, most: 8 }, Is("[300, 60, 0]"),
        "From each official signal to zero, in the order they come. Five-minute gun, one-minute gun, start \
         gun (unlimited-class yearbook 1973, chapter 11, the rulebook)."),
    key("rules.early_window_s", number("s", "0", "3600"), Is("60"),
        "A crossing this close before zero is an early start; before it, the boat is milling (common practice, \
         no source)."),
    key("rules.early_costs", Word(&["lap", "time", "nothing"]), Is("\"lap\""),
        "What an early start costs: one more lap to run, time, or nothing that the dash could count. It \
         differs between sanctioning bodies; ask yours."),
    key("rules.early_time_s", number("s", "0.001", "3600"),
        Means("needed with early_costs = \"time\", refused without"),
        "The time that an early start costs."),
    key("rules.lap_shortest_s", number("s", "0", "3600"), Is("20"),
        "No boat laps faster than this; a crossing sooner after a counted one is not a lap (common practice, no \
         source)."),
    key("rules.lap_missed_percent", whole("%", 101, 1_000), Is("140"),
        "More water than this since the last counted crossing, in percent of the lap length, means that one \
         was missed (common practice, no source)."),
    key("rules.too_close_sigmas", whole("", 0, 10), Is("2"),
        "A margin within so many standard deviations of zero is too close to call (common practice, no source)."),
    key("rules.approach_s", number("s", "0", "3600"), Is("5"),
        "How long before the line the driver is told that it comes (common practice, no source)."),
    key("rules.counts_s", List { each: &SECONDS, most: 16 }, Is("[60, 30, 20, 10, 5, 4, 3, 2, 1]"),
        "Seconds before zero at which a count sounds, in the order they come. An empty list is silence (common \
         practice, no source)."),
    key("rules.floor.speed_m_s", number("m/s", "0.1", "200"), NeededInItsTable("44.704"),
        "The least speed while milling. Without the table [rules.floor] there is no floor. 100 mph are \
         44.704 m/s."),
    key("rules.floor.from_s", number("s", "0", "3600"), Is("300"),
        "From so long before zero until the start the floor holds (class rule-change notice, 2012, like the \
         three below)."),
    key("rules.floor.grace_s", number("s", "0.1", "60"), Is("5"),
        "How long a boat may be slower."),
    key("rules.floor.penalty_s", number("s", "0", "3600"), Is("15"),
        "What each unit costs."),
    key("rules.floor.units_max", whole("", 1, 255), Is("4"),
        "The most units."),
    key("boat.antenna_to_bow_m", number("m", "-100", "100"), Is("0"),
        "From the antenna forward to the bow: the bow starts, the antenna measures. Measure it."),
    key("boat.antenna_to_bow_sd_m", number("m", "0", "100"), Is("0.05"),
        "How well that is known: one standard deviation (common practice, no source)."),
    key("receiver.latency_s", number("s", "0", "10"), Is("0.06"),
        "The least delay from the moment of a fix to the arrival of its last byte. It matters while there \
         is no pulse per second (common practice, no source)."),
    key("receiver.latency_sd_s", number("s", "0", "10"), Is("0.02"),
        "How well that is known: one standard deviation (common practice, no source)."),
    key("receiver.position_sd_m", number("m", "0", "100"), Is("1.0"),
        "The position's error along any direction, one standard deviation, where the receiver states none \
         itself (common practice, no source)."),
    key("receiver.speed_sd_m_s", number("m/s", "0", "10"), Is("0.05"),
        "The speed's error, likewise (common practice, no source)."),
    key("receiver.hysteresis_m", number("m", "0", "100"), Is("2"),
        "How far behind the line the bow must have been before it can cross again (common practice, no source)."),
    key("receiver.unknown_acceleration_m_s2", number("m/s2", "0", "100"), Is("5"),
        "What acceleration a boat may have had between fixes without our knowing: one standard deviation \
         (common practice, no source)."),
    key("receiver.bridge_max_s", number("s", "0", "3600"), Is("10"),
        "Fixes further apart than this are not bridged: a crossing between them is not claimed (common \
         practice, no source)."),
    key("receiver.lost_after_s", number("s", "0", "3600"), Is("1"),
        "How long without a usable fix until the driver is told (common practice, no source)."),
    key("crystal.sd_ppm", number("ppm", "0", "1000"), Is("30"),
        "The error of the board's crystal before any pulse has measured it: one standard deviation. 30 ppm \
         are 9 ms in 300 s (data sheets have 20 to 50 ppm, from memory)."),
    key("crystal.fast_ppm", number("ppm", "-1000", "1000"), Is("0"),
        "By how much the board's clock is fast before any pulse has measured it. Measure it: `gunline \
         calibrate crystal`, against the receiver's pulse."),
    key("thumb.reaction_mean_s", number("s", "0", "10"), Is("0.19"),
        "How late the driver's press is, on average. Simple reaction to light: psychology notes on young \
         adults. Measure your own."),
    key("thumb.reaction_sd_s", number("s", "0", "10"), Is("0.04"),
        "How much that varies from press to press: one standard deviation (from memory; a boat is no desk)."),
    key("thumb.reaction_mean_sd_s", number("s", "0", "10"), Is("0.015"),
        "How well the average itself is known: one standard deviation. All presses share this error. Half \
         the difference between light and sound."),
    key("thumb.hold_to_clear_s", number("s", "0.5", "10"), Is("2"),
        "Holding the button for so long clears the clock (common practice, no source)."),
    key("thumb.debounce_s", number("s", "0", "1"), Is("0.025"),
        "Edges closer together than this are bounce. Measured switches bounce for up to some tens of \
         milliseconds, odd ones for 0.15 s."),
    key("gun.contact_delay_s", number("s", "0", "10"), Is("0"),
        "How late the gun contact closes after the gun fires."),
    key("gun.contact_sd_s", number("s", "0", "10"), Is("0.001"),
        "How much that varies: one standard deviation (common practice, no source)."),
    key("gun.gate_sigmas", whole("", 1, 20), Is("4"),
        "A signal within so many standard deviations of the running zero agrees with it (common practice, no \
         source)."),
    key("gun.gate_least_s", number("s", "0", "10"), Is("0.1"),
        "A signal this close agrees whatever the deviations say (common practice, no source)."),
    key("gun.replace_within_s", number("s", "0", "3600"), Is("5"),
        "A signal beyond the gate, but this close, replaces zero (common practice, no source)."),
    key("gun.heard.distance_m", number("m", "0", "5000"), NeededInItsTable("800"),
        "How far the gun is from the driver when it fires. Give the table [gun.heard] only when he presses \
         at the sound and not at smoke or flag."),
    key("gun.heard.distance_sd_m", number("m", "0", "5000"), Is("100"),
        "How well that is known, one standard deviation: he mills about (common practice, no source)."),
    key("gun.heard.air_c", number("degrees C", "-40", "60"), Is("20"),
        "The air's temperature; sound is 0.2 % faster with each degree (common practice, no source)."),
    key("engine.demonstration", Flag, Is("true"),
        "`false` says: the limits below are mine, from the engine maker's manual. Then all of them must be \
         given, and the scale of both pickups. As long as it is `true` none may be, and the screen says \
         that the limits are a demonstration."),
    key("engine.probes", whole("", 0, 4), Is("1"),
        "How many thermocouples are fitted; EGT is the hottest of them (common practice, no source)."),
    key("engine.egt_stale_after_s", number("s", "0.1", "5"), Is("0.5"),
        "How old a temperature may become before it is no temperature any more (common practice, no source)."),
    key("engine.faults_to_believe", whole("reads", 1, 10), Is("3"),
        "Bad reads in a row that make a probe faulty; good reads in a row that make it trusted again (common \
         practice, no source)."),
    key("engine.lit_above_c", number("degrees C", "100", "600"), Is("300"),
        "Above this EGT the engine burns, so a shaft without a signal is a fault (common practice, no source)."),
    key("engine.cold_below_c", number("degrees C", "0", "600"), Is("100"),
        "Below this EGT, with N1 self-sustaining, it is the probe that is wrong. Not above `lit_above_c` \
         (common practice, no source)."),
    key("engine.self_sustaining_pct", number("%", "10", "80"), Is("45"),
        "The N1 from which the engine runs without its starter: above it the running table applies (common \
         practice, no source)."),
    key("engine.n1_tach.rpm_at_100", whole("rpm", 100, 100_000), Is("4200"),
        "The gas generator's pickup: turns a minute at 100 % N1. 4200 is the nameplate of a two-pole \
         tachometer generator."),
    key("engine.n1_tach.cycles_per_turn", whole("", 1, 255), Is("1"),
        "Cycles of the signal for each of those turns (common practice, no source)."),
    key("engine.n2_tach.rpm_at_100", whole("rpm", 100, 100_000), Is("10000"),
        "The power shaft's pickup: turns a minute at 100 % N2 (invented)."),
    key("engine.n2_tach.cycles_per_turn", whole("", 1, 255), Is("1"),
        "Cycles of the signal for each of those turns (common practice, no source)."),
    key("engine.egt_starting[].above_c", number("degrees C", "0", "1372"), NeededInItsTable("800"),
        "EGT limits while starting, up to six rows with rising temperatures and falling times: above this \
         the clock runs."),
    key("engine.egt_starting[].allowed_s", ALLOWED, NeededInItsTable("10"),
        "Longer above it than this is an exceedance; 0 is at once."),
    key("engine.egt_starting_hysteresis_c", number(DIFFERENCE, "3", "50"), Is("5"),
        "How far below a limit EGT must come to count as back inside. 3 degrees are the tolerance of class \
         1 type K wire at 750 degrees (IEC 60584-1)."),
    key("engine.egt_running[].above_c", number("degrees C", "0", "1372"), NeededInItsTable("780"),
        "EGT limits while running, likewise."),
    key("engine.egt_running[].allowed_s", ALLOWED, NeededInItsTable("300"),
        "Longer above it than this is an exceedance; 0 is at once."),
    key("engine.egt_running_hysteresis_c", number(DIFFERENCE, "3", "50"), Is("5"),
        "As above."),
    key("engine.n1[].above_pct", number("%", "0", "150"), NeededInItsTable("102"),
        "N1 limits, likewise."),
    key("engine.n1[].allowed_s", ALLOWED, NeededInItsTable("300"),
        "Longer above it than this is an exceedance; 0 is at once."),
    key("engine.n1_hysteresis_pct", number("%", "0", "5"), Is("0.5"),
        "How far below a limit N1 must come to count as back inside (common practice, no source)."),
    key("engine.n2[].above_pct", number("%", "0", "150"), NeededInItsTable("103"),
        "N2 limits, likewise."),
    key("engine.n2[].allowed_s", ALLOWED, NeededInItsTable("20"),
        "Longer above it than this is an exceedance; 0 is at once."),
    key("engine.n2_hysteresis_pct", number("%", "0", "5"), Is("0.5"),
        "How far below a limit N2 must come to count as back inside (common practice, no source)."),
    key("engine.n2_overspeed_pct", number("%", "0", "150"), DEMONSTRATION,
        "The N2 above which the shaft has lost its load. Not below the last row of `n2`."),
    key("engine.start.demonstration", Flag, Is("true"),
        "`false` says: the figures of the start below are mine, from the engine maker's manual. Then those that \
         a manual gives must be there. As long as it is `true` the start's page says DEMO."),
    key("engine.start.wired.igniter", Flag, Is("false"),
        "The igniters' switch is wired to the dash. A switch that is not wired, or has not moved since the dash \
         was switched on, is unknown, never off."),
    key("engine.start.wired.starter_low", Flag, Is("false"),
        "The starter's lower voltage, likewise."),
    key("engine.start.wired.starter_high", Flag, Is("false"),
        "The starter's higher voltage, likewise."),
    key("engine.start.wired.start_fuel", Flag, Is("false"),
        "The start fuel, likewise."),
    key("engine.start.wired.external_power", Flag, Is("false"),
        "External power, likewise."),
    key("engine.start.cranking_from_pct", number("%", "2", "10"), Is("5"),
        "From this N1 on the shaft is taken to turn (common practice, no source)."),
    key("engine.start.fuel_from_pct", number("%", "2", "45"), Is("12"),
        "Fuel before this N1 is too soon. General texts have 12, 13 and 15 %. Not below `cranking_from_pct`, not \
         above `self_sustaining_pct`."),
    key("engine.start.fuel_inferred_after_s", number("s", "0", "60"), Is("10"),
        "Where no switch tells of fuel, it is taken to be on this long after N1 came to `fuel_from_pct` (common \
         practice, no source)."),
    key("engine.start.light_off_rise_c", number(DIFFERENCE, "10", "300"), Is("50"),
        "EGT so much above the coolest while cranking is a light-off (common practice, no source)."),
    key("engine.start.light_off_within_s", number("s", "1", "60"), Is("10"),
        "Fuel must light within this time (training text on aborted starts)."),
    key("engine.start.starter_high_from_c", number("degrees C", "50", "600"), Is("200"),
        "The EGT at which the starter is put on its higher voltage (common practice, no source)."),
    key("engine.start.idle_from_pct", number("%", "20", "90"), Is("55"),
        "The N1 of an idle that holds (common practice, no source)."),
    key("engine.start.probe_lag_s", number("s", "0", "3"), Is("0.7"),
        "The time constant of the thermocouple in the gas: by so much the gas is ahead of its reading. Half a \
         second to a second and a half, from a bare junction to a sheathed one (from memory). Ask its maker."),
    key("engine.start.hot_ahead_s", number("s", "0.5", "10"), Is("2"),
        "A hot start is said when the limit, the last row of `egt_starting`, is this near at the rate of rise \
         (common practice, no source)."),
    key("engine.start.good_peak_c", number("degrees C", "300", "1372"), Is("800"),
        "The highest peak of a good start; above it and still rising is a hot start (demonstration; below 800 with a \
         cold engine, 850 with a warm one: insert to a light turbine helicopter's handbook)."),
    key("engine.start.hung_rise_pct", number("%", "0.1", "10"), Is("1"),
        "While it burns below self-sustaining speed, N1 must gain this much (common practice, no source)..."),
    key("engine.start.hung_after_s", number("s", "1", "60"), Is("5"),
        "... within this time, or the start hangs (common practice, no source)."),
    key("engine.start.starter_on_s", number("s", "5", "300"), Is("40"),
        "The longest that the starter may be on at a time (handbook of a light turbine, like the three below)."),
    key("engine.start.starter_off_s", number("s", "0", "1800"), Is("60"),
        "The rest after each time on."),
    key("engine.start.starter_cycles", whole("times", 1, 20), Is("2"),
        "So many times on, then the long rest."),
    key("engine.start.starter_rest_s", number("s", "0", "86400"), Is("1800"),
        "The long rest. Not below `starter_off_s`."),
    key("engine.start.cool_below_c", number("degrees C", "50", "300"), Is("200"),
        "After a start that was given up: crank without fuel until EGT is below this (flash cards of a military \
         helicopter). Not above `lit_above_c`."),
    key("engine.start.cooling_within_s", number("s", "1", "60"), Is("5"),
        "EGT must have fallen by 10 degrees within this time while cooling (common practice, no source)."),
    key("engine.start.shut_down_after_s", number("s", "0", "3600"), Is("30"),
        "An engine that goes out after so long below 75 % N1 was shut down; sooner it is a flame-out (common \
         practice, no source)."),
    key("engine.watch.unload_rise_pct_s", whole("%/s", 20, 200), Is("120"),
        "N2 that rises by so many percent of full speed a second, twice in a row, has lost its load. Set it above \
         what your boat shows when the propeller leaves the water (common practice, no source, like all of \
         `watch`)."),
    key("engine.watch.rise_most_pct_s", whole("%/s", 300, 10_000), Is("600"),
        "No shaft gains speed faster than this: it was noise. The lower it is, the nearer to overspeed N2 must be for one \
         spurious pulse to be taken for it."),
    key("engine.watch.unload_from_pct", number("%", "20", "150"), Is("60"),
        "Below this N2 no rise is called unloading."),
    key("engine.watch.ahead_s", number("s", "0", "300"), Is("30"),
        "So far ahead a rising value is followed to the limit that it will reach."),
    key("engine.watch.power_from_pct", number("%", "50", "150"), Is("90"),
        "From this N1 on, N2 must be in its band."),
    key("engine.watch.n2_least_pct", number("%", "0", "90"), Is("25"),
        "The lowest N2 under power. A boat that gets going from rest is below it for a while."),
    key("engine.watch.n2_most_pct", number("%", "95", "150"), Is("115"),
        "The highest N2 under power."),
    key("engine.watch.mismatch_for_s", number("s", "0.5", "60"), Is("5"),
        "N1 and N2 may stay apart for so long: a propeller that ventilates comes back."),
    key("engine.watch.split_c", number(DIFFERENCE, "5", "300"), Is("40"),
        "Two probes may be apart by this much."),
    key("engine.watch.split_for_s", number("s", "0.5", "60"), Is("5"),
        "And by more for so long."),
    key("engine.watch.cold_least_c", number("degrees C", "-55", "20"), Is("-20"),
        "The coldest that a thermocouple chip may say it is itself."),
    key("engine.watch.cold_most_c", number("degrees C", "30", "125"), Is("85"),
        "The hottest."),
    key("engine.watch.cold_rate_c_s", number("degrees C/s", "0.5", "50"), Is("5"),
        "By more than this in a second no chip on a board gets warmer or colder."),
    key("engine.watch.aged_lag_s", number("s", "0.2", "5"), Is("0.7"),
        "A probe that follows its mate so much later while both rise is slow."),
    key("engine.watch.aged_low_c", number(DIFFERENCE, "5", "300"), Is("25"),
        "A probe that reads so much lower than its mate for a minute while both stand still has drifted, or its \
         mate has."),
    key("engine.bands_c", List { each: &BAND, most: 5 }, Is("[600, 700, 750, 800, 850]"),
        "Where one band of EGT ends and the next begins, rising; time is counted in each. An empty list is one \
         band (demonstration)."),
    key("calibration.probe[].number", whole("", 1, 4), NeededInItsTable("1"),
        "A thermocouple, counted from 1, that was read in melting ice and in boiling water: two points make the line \
         by which it is corrected. `gunline calibrate thermocouple` writes these."),
    key("calibration.probe[].ice_c", number("degrees C", "-12.5", "12.5"), NeededInItsTable("0.6"),
        "What it showed in melting ice, which is at 0 degrees (ITS-90)."),
    key("calibration.probe[].boiling_c", number("degrees C", "64.5", "117.5"), NeededInItsTable("99.1"),
        "What it showed in boiling water."),
    key("calibration.probe[].boils_at_c", number("degrees C", "77", "105"), NeededInItsTable("99.6"),
        "Where water boiled that day, by the pressure of the air (IAPWS-IF97)."),
    key("calibration.probe[].made", Day, NeededInItsTable("2031-05-17"),
        "The day. Judge and report show it."),
    key("calibration.tach_made", Day, Means("never"),
        "When the pickups' scale was held against a known frequency."),
    key("calibration.antenna_made", Day, Means("never"),
        "When `boat.antenna_to_bow_m` was measured."),
    key("calibration.thumb_made", Day, Means("never"),
        "When [thumb] was measured."),
    key("calibration.crystal_made", Day, Means("never"),
        "When `crystal.fast_ppm` was measured."),
    key("alerts.quiet_before_zero_s", number("s", "0", "60"), Is("10"),
        "So long before zero, until the start is made, only warnings are shown and heard; cautions and advisories \
         wait. 0 turns the rule off (common practice, no source)."),
    key("run_in.turns", Word(&["left", "right"]), NeededInItsTable("\"left\""),
        "Which way this race turns. Without the table [run_in] the dash has no run-in: no margin, no GO."),
    key("run_in.bends", Bends { most: 8 },
        NeededInItsTable("[[45.004349443, -30.001536659, 190.0], [44.991901501, -30.001536385, 190.0]]"),
        "The bends of the course in the order in which a boat with left-hand turns meets them, whichever way \
         this race turns; at least two. Of each the middle of the circle on which its buoys stand, and its \
         radius to the buoys; negative where the boat turns the other way."),
    key("run_in.lane", whole("", 1, 6), Is("1"),
        "The lane; lane 1 is next to the buoys."),
    key("run_in.lane_width_m", number("m", "0", "100"), Is("20"),
        "How wide a lane is; the boat runs in the middle of its own (common practice, no source)."),
    key("run_in.tolerance_m", number("m", "1", "500"), Is("30"),
        "How far beside its lane the boat still counts as on course, where lanes are fixed; elsewhere three \
         times that (common practice, no source)."),
    key("run_in.entrance", Place, Means("lanes are fixed everywhere"),
        "The mark from which on lanes are fixed."),
    key("run_in.cut_first", whole("", 1, 8), Means("no cut; all three `cut` keys or none"),
        "The first bend that a way through the infield leaves out, counted from 1 in `bends`."),
    key("run_in.cut_last", whole("", 1, 8), Means("as above"),
        "The last one. Not below `cut_first`."),
    key("run_in.cut_bends", Bends { most: 4 }, Means("as above"),
        "The bends it takes instead; an empty list is a straight way."),
    key("run_in.risk_pct", number("%", "0.1", "50"), Is("1"),
        "How often in a hundred starts the driver accepts to be early by the dash's own error; the margin to \
         hold follows from it (common practice, no source)."),
    key("run_in.response_s", number("s", "0", "10"), Is("0.25"),
        "From seeing the word to an open throttle: his reaction (see [thumb]) and his foot (common practice, no \
         source)."),
    key("run_in.sigma_most_s", number("s", "0", "10"), Is("0.5"),
        "With a standard deviation of the margin longer than this there is no advice (common practice, no \
         source)."),
    key("run_in.speaks", Flag, Is("true"),
        "Whether the beeper says HOLD, GO and LATE. `false`: for the eye alone."),
    key("run_in.boat.speeds_m_s", List { each: &PULL_SPEED, most: 12 }, INVENTED,
        "Rising speeds at which the pull is given. Both lists or none; with both, the boat counts as measured."),
    key("run_in.boat.pulls_m_s2", List { each: &PULL, most: 12 }, INVENTED,
        "The acceleration flat out at each of these speeds, engine spooled up; at least 0.1, and the last may \
         be 0: the boat gains nothing there."),
    key("run_in.boat.lag_s", number("s", "0", "4"), Is("1.45"),
        "Time constant of the turbine behind the throttle, as the boat's acceleration shows it (the invented \
         boat)."),
    key("run_in.boat.bend_m_s2", number("m/s2", "1", "50"), Is("15.2"),
        "Sideways acceleration that the boat holds in a bend (the invented boat)."),
    key("run_in.boat.coasting_pct_per_m", number("%/m", "0.01", "5"), Is("0.244"),
        "The share of its speed that the boat loses in each metre with the throttle closed (the invented boat)."),
    key("run_in.boat.pull_sd_pct", number("%", "0", "50"), Is("3"),
        "How well the pull is known: one standard deviation, percent of it (the invented boat)."),
    key("run_in.boat.bend_sd_pct", number("%", "0", "50"), Is("1.5"),
        "How well the speed in bends is known, likewise (the invented boat)."),
    key("run_in.boat.lag_sd_s", number("s", "0", "4"), Is("0.15"),
        "How well the lag is known: one standard deviation (the invented boat)."),
    key("survey.accuracy_m", number("m", "0.3", "10"), Is("0.7"),
        "A board that takes marks of the course takes each once it is known this well: one standard deviation. 0.7 m \
         are 10 ms at 160 mph (common practice, no source)."),
    key("screen.units", Word(&["mph", "km/h"]), Is("\"mph\""),
        "The unit of speeds on the screen."),
];

/// The keys that are the owner's to give once `engine.demonstration` is false: limits, and the pickups' scale.
pub const LIMITS: [&str; 5] =
    ["engine.egt_starting", "engine.egt_running", "engine.n1", "engine.n2", "engine.n2_overspeed_pct"];

/// The figures of the start that a manual gives: the owner's to give once `engine.start.demonstration` is false.
pub const STARTS: [&str; 7] = [
    "engine.start.fuel_from_pct",
    "engine.start.light_off_within_s",
    "engine.start.starter_on_s",
    "engine.start.starter_off_s",
    "engine.start.starter_cycles",
    "engine.start.starter_rest_s",
    "engine.start.cool_below_c",
];

/// Without these two no shaft speed means anything.
pub const SCALES: [&str; 2] = ["engine.n1_tach.rpm_at_100", "engine.n2_tach.rpm_at_100"];
