//! The waves are read back with the `vcd` crate's parser and held against what IEEE 1364 asks of a value change
//! dump (as its open descriptions and writers give it): header sections, initial values at `#0`, times that do
//! not run back.

use vcd::{Command, Header, Parser};

use super::*;
use crate::invented;

fn read() -> (Header, Vec<Command>) {
    let mut bytes = Vec::new();
    write(&invented::oval(), &mut bytes).unwrap();
    let mut parser = Parser::new(bytes.as_slice());
    let header = parser.parse_header().unwrap();
    (header, parser.map(Result::unwrap).collect())
}

fn id(header: &Header, path: [&str; 2]) -> IdCode {
    header.find_var(&path).unwrap().code
}

/// What a signal does: time in microseconds and value.
fn vector(commands: &[Command], id: IdCode) -> Vec<(u64, String)> {
    let mut now = 0;
    commands
        .iter()
        .filter_map(|command| match command {
            Command::Timestamp(t) => {
                now = *t;
                None
            }
            Command::ChangeVector(of, bits) if *of == id => {
                Some((now, bits.iter().map(|bit| bit.to_string()).collect()))
            }
            Command::ChangeScalar(of, bit) if *of == id => Some((now, bit.to_string())),
            Command::ChangeReal(of, number) if *of == id => Some((now, number.to_string())),
            _ => None,
        })
        .collect()
}

#[test]
fn the_header_states_a_microsecond_and_every_signal_has_its_kind_and_width() {
    let (header, _) = read();
    assert_eq!(header.timescale, Some((1, TimescaleUnit::US)));
    assert!(header.date.is_none(), "the same log gives the same bytes on any day");
    for (path, kind, width) in [
        (["lines", "button"], VarType::Wire, 1),
        (["lines", "gun_contact"], VarType::Wire, 1),
        (["dash", "race_ms"], VarType::Integer, 32),
        (["dash", "egt_degc"], VarType::Real, 64),
        (["dash", "alert"], VarType::Reg, 2),
        (["dash", "call"], VarType::Reg, 2),
    ] {
        let var = header.find_var(&path).unwrap();
        assert_eq!((var.var_type, var.size), (kind, width), "{path:?}");
    }
}

#[test]
fn initial_values_of_all_signals_stand_at_0_and_times_do_not_run_back() {
    let (header, commands) = read();
    assert!(matches!(commands[..2], [Command::Timestamp(0), Command::Begin(SimulationCommand::Dumpvars)]));
    let signals: usize = header
        .items
        .iter()
        .map(|item| match item {
            vcd::ScopeItem::Scope(scope) => scope.items.len(),
            _ => 0,
        })
        .sum();
    let end = commands.iter().position(|c| matches!(c, Command::End(SimulationCommand::Dumpvars))).unwrap();
    assert_eq!(end - 2, signals);
    let times: Vec<_> =
        commands.iter().filter_map(|c| if let Command::Timestamp(t) = c { Some(*t) } else { None }).collect();
    assert!(times.windows(2).all(|pair| pair[0] < pair[1]));
}

/// The log begins 330 s before zero; what happens at race time t stands at t + 330 s.
#[test]
fn what_happened_stands_at_its_time_with_its_value() {
    let (header, commands) = read();
    let button = vector(&commands, id(&header, ["lines", "button"]));
    let moments = [(0, "0"), (30_250_000, "1"), (30_400_000, "0"), (270_150_000, "1"), (270_300_000, "0")];
    assert_eq!(button, moments.map(|(t, bit)| (t, bit.to_string())));
    let race = vector(&commands, id(&header, ["dash", "race_ms"]));
    // Two's complement, 32 bits: at true zero the dash, 12 ms late, shows -12.
    let minus_12 = format!("{:032b}", -12_i32);
    assert!(race.contains(&(330_000_000, minus_12)));
    assert!(race[0].1.chars().all(|bit| bit == 'x'), "not armed: unknown");
    let call = vector(&commands, id(&header, ["dash", "call"]));
    assert_eq!(call.last().map(|(_, bits)| bits.as_str()), Some("10"));
    let alert = vector(&commands, id(&header, ["dash", "alert"]));
    assert_eq!(alert, [(0, "00".to_string()), (430_000_000, "11".into()), (442_000_000, "00".into())]);
    let good = vector(&commands, id(&header, ["dash", "egt_degc_good"]));
    let standings: Vec<_> = good.iter().map(|(_, bit)| bit.as_str()).collect();
    assert_eq!(standings, ["0", "1", "x", "1"], "a broken probe is no temperature");
}
