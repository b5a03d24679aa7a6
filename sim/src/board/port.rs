//! The board's serial port: found by its USB identity, or by name; or a board that is emulated, at a TCP port.

use std::io::{self, Read, Write};
use std::net::TcpStream;
use std::time::Duration;

use firmware::talk::{USB_NAME, USB_PRODUCT, USB_VENDOR};
use serialport::{ClearBuffer, SerialPortType, UsbPortInfo};

use super::Trouble;

/// A read gives up so often, so that whoever waits can look at the clock.
const READ_FOR: Duration = Duration::from_millis(20);

/// What stands before the address of an emulated board's line: `tcp:127.0.0.1:PORT`.
const TCP: &str = "tcp:";

/// Bytes to and from a board. A read ends soon, with or without a byte.
pub trait Line: Read + Write + Send {}

impl<T: Read + Write + Send + ?Sized> Line for T {}

/// Where to look for the board.
#[derive(Clone, Debug)]
pub enum Place {
    /// Wherever it is found.
    Anywhere,
    /// At the port of this name.
    Named(String),
}

/// The names of the ports that are boards.
#[must_use]
pub fn find() -> Vec<String> {
    let ports = serialport::available_ports().unwrap_or_default();
    let ours = |kind: &SerialPortType| matches!(kind, SerialPortType::UsbPort(usb) if is_ours(usb));
    ports.into_iter().filter(|port| ours(&port.port_type)).map(|port| port.port_name).collect()
}

/// True for the board's USB identity. Many devices share it, so the name counts too, where the system tells it.
fn is_ours(usb: &UsbPortInfo) -> bool {
    let named = usb.product.as_deref().is_none_or(|name| name.replace('_', " ") == USB_NAME);
    (usb.vid, usb.pid) == (USB_VENDOR, USB_PRODUCT) && named
}

/// Opens the board's port.
///
/// # Errors
/// [`Trouble`] when there is none, or more than one, or it cannot be used.
pub fn open(place: &Place) -> Result<Box<dyn Line>, Trouble> {
    let name = match place {
        Place::Named(name) => name.clone(),
        Place::Anywhere => the_one(find())?,
    };
    if let Some(address) = name.strip_prefix(TCP) {
        return tcp(address).map_err(|why| Trouble::Port { port: name.clone(), why: why.into() });
    }
    // A USB serial port has no baud rate; the call wants one.
    match serialport::new(&name, 115_200).timeout(READ_FOR).dtr_on_open(true).open() {
        Ok(port) => {
            // Left over from whoever used it before; where it cannot be thrown away it will not be understood.
            let _ = port.clear(ClearBuffer::Input);
            Ok(Box::new(port))
        }
        Err(why) => Err(Trouble::Port { port: name, why }),
    }
}

fn tcp(address: &str) -> io::Result<Box<dyn Line>> {
    let stream = TcpStream::connect(address)?;
    stream.set_nodelay(true)?;
    stream.set_read_timeout(Some(READ_FOR))?;
    Ok(Box::new(stream))
}

fn the_one(mut found: Vec<String>) -> Result<String, Trouble> {
    match (found.pop(), found.is_empty()) {
        (Some(only), true) => Ok(only),
        (Some(last), false) => {
            found.push(last);
            Err(Trouble::Several(found))
        }
        (None, _) => Err(Trouble::NoBoard),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::panic, reason = "a test that fails panics")]

    use super::*;

    #[test]
    fn a_board_is_told_from_others_of_the_same_identity_by_its_name() {
        let usb = |pid: u16, product: Option<&str>| UsbPortInfo {
            vid: USB_VENDOR,
            pid,
            serial_number: None,
            manufacturer: None,
            product: product.map(str::to_owned),
        };
        assert!(is_ours(&usb(USB_PRODUCT, Some("Gunline dash"))));
        assert!(is_ours(&usb(USB_PRODUCT, Some("Gunline_dash"))));
        assert!(is_ours(&usb(USB_PRODUCT, None)));
        assert!(!is_ours(&usb(USB_PRODUCT, Some("Kitchen scales"))));
        assert!(!is_ours(&usb(USB_PRODUCT + 1, Some("Gunline dash"))));
    }

    #[test]
    fn of_several_boards_none_is_guessed() {
        let names = |all: &[&str]| all.iter().map(|name| (*name).to_owned()).collect();
        assert!(matches!(the_one(names(&[])), Err(Trouble::NoBoard)));
        assert_eq!(the_one(names(&["A"])).unwrap(), "A");
        let Err(Trouble::Several(all)) = the_one(names(&["A", "B"])) else { panic!("a guess") };
        assert_eq!(all, ["A", "B"]);
    }
}
