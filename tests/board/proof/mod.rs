//! What can be proved from the linked program alone, without running it: that nothing of ours can panic, that the
//! handlers need nothing from flash, and that flash and static RAM keep to their budgets.
//!
//! `calls` reads the machine code and draws who calls whom; `origin` asks the debug information from which source a
//! call comes, through all inlining. What libraries still bring along is listed with its reason in
//! `firmware/boards/pico/panics.toml`, and the list must be exact.

mod calls;
mod origin;

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use calls::{Calls, Function};
use origin::{Origin, Origins};

/// The program that was built.
fn elf() -> PathBuf {
    let path =
        std::env::var_os("GUNLINE_ELF").unwrap_or_else(|| panic!("GUNLINE_ELF is set by `tests/all board`"));
    PathBuf::from(path)
}

fn in_pico(name: &str) -> toml::Table {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../firmware/boards/pico").join(name);
    std::fs::read_to_string(path).unwrap().parse().unwrap()
}

/// The language's own functions that end in a panic: from the handler back through all that belongs to `core`.
fn panicking(calls: &Calls, origins: &Origins) -> BTreeSet<usize> {
    let handler = calls.position(|function| function.name.ends_with("rust_begin_unwind"));
    let is_cores = |place: usize| origins.outermost(calls.functions[place].start) == Origin::Core;
    let mut found = BTreeSet::from([handler.expect("a program with a panic handler")]);
    loop {
        let callers = calls.callers_of(&found).filter(|place| is_cores(*place));
        let more: BTreeSet<usize> = callers.filter(|place| !found.contains(place)).collect();
        if more.is_empty() {
            return found;
        }
        found.extend(more);
    }
}

/// Each call that can end in a panic, by where it was written: the innermost source that is not the language's own.
fn sites(calls: &Calls, origins: &Origins) -> Vec<(Origin, String)> {
    let panicking = panicking(calls, origins);
    let outside =
        calls.calls.iter().filter(|call| !panicking.contains(&call.from) && panicking.contains(&call.to));
    outside.map(|call| origins.written_at(call.at)).collect()
}

#[test]
fn no_line_of_ours_can_panic_and_of_the_libraries_only_those_listed_with_their_reason() {
    let (calls, origins) = (Calls::read(&elf()), Origins::read(&elf()));
    let sites = sites(&calls, &origins);
    let mut found = BTreeMap::new();
    let mut others = Vec::new();
    for (origin, site) in sites {
        match origin {
            Origin::Library(name) => *found.entry(name).or_insert(0) += 1,
            origin => others.push((origin, site)),
        }
    }
    assert_eq!(others, [], "these lines can panic");
    println!("calls that can end in a panic, by library: {found:?}");
    let listed: BTreeSet<String> = in_pico("panics.toml").keys().cloned().collect();
    assert_eq!(found.into_keys().collect::<BTreeSet<_>>(), listed);
}

#[test]
fn from_a_decision_of_the_dash_no_panic_can_be_reached() {
    let (calls, origins) = (Calls::read(&elf()), Origins::read(&elf()));
    let panicking = panicking(&calls, &origins);
    let feed =
        calls.position(|function| function.name == "gunline_feed").expect("the function that is measured");
    let reached = calls.reached_from(feed);
    assert!(reached.len() > 50, "the call graph is not whole: {}", reached.len());
    let names = |places: &BTreeSet<usize>| -> Vec<String> {
        places.iter().map(|place| calls.functions[*place].name.clone()).collect()
    };
    let panics: BTreeSet<usize> = reached.intersection(&panicking).copied().collect();
    assert_eq!(names(&panics), Vec::<String>::new());
}

#[test]
fn the_handlers_and_all_they_call_lie_in_ram() {
    let calls = Calls::read(&elf());
    let is_in_ram = |function: &Function| (0x2000_0000..0x2100_0000).contains(&function.start);
    for handler in ["IO_IRQ_BANK0", "UART0_IRQ", "TIMER_IRQ_0", "TIMER_IRQ_1", "USBCTRL_IRQ"] {
        let place = calls.position(|function| function.name == handler).expect(handler);
        for reached in calls.reached_from(place) {
            let function = &calls.functions[reached];
            assert!(is_in_ram(function), "{handler} needs {} in flash", function.name);
        }
    }
}

/// The linker has refused a program over its budgets already; here for the figures.
#[test]
fn flash_and_static_ram_keep_to_their_budgets() {
    let calls = Calls::read(&elf());
    let budgets = in_pico("budgets.toml");
    let budget = |name: &str| budgets[name].as_integer().unwrap() as u64;
    let (flash, ram) = (calls.flash_bytes, calls.static_ram_bytes);
    println!(
        "flash {flash} of {} bytes, static RAM {ram} of {} bytes",
        budget("flash_bytes"),
        budget("static_ram_bytes")
    );
    assert!(flash > 10_000 && flash <= budget("flash_bytes"));
    assert!(ram > 1_000 && ram <= budget("static_ram_bytes"));
}
