//! Practice ashore: a person drives starts on a page that this program serves, with the real dash before him.
//!
//! [`plan`] says what is practised and writes it as a heat file; [`session`] plays that heat while it is driven: the
//! world under the driver's hands, the dash in its rig, other boats about him. [`review`] is what the coach
//! has to say afterwards, made from the replay of the heat file; [`store`] keeps it. [`server`] and [`socket`] connect
//! them with the page in `page/`, and [`guard`] decides who may talk at all. With a [`board`] the real one
//! stands on its bench beside it, and its screen is what the page shows.
//!
//! Time in a session is virtual: the socket paces it by the host's clock, a test by nothing.

pub mod board;
pub mod command;
pub mod figures;
pub mod foot;
pub mod guard;
pub mod panel;
pub mod pilot;
pub mod plan;
pub mod review;
pub mod rivals;
pub mod server;
pub mod session;
pub mod socket;
pub mod store;
#[cfg(test)]
mod tests;
pub mod wire;
