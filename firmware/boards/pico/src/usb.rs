//! The USB line: bytes between a host and the talk, as much as one turn of the loop may spend on them.
//!
//! Nothing here waits. The interrupt only says that there is something to do; what the host sends faster than it is
//! answered stays with the host, and the interrupt stays off until the talk has room again.
//!
//! Knows the USB device and the talk's four steps; what is asked for is done elsewhere. Packets in, packets out.

use firmware::talk::{Talk, USB_NAME, USB_PRODUCT, USB_VENDOR};
use rp2040_hal::usb::UsbBus;
use usb_device::bus::UsbBusAllocator;
use usb_device::device::{StringDescriptors, UsbDevice, UsbDeviceBuilder, UsbVidPid};
use usbd_serial::{SerialPort, USB_CLASS_CDC};

/// A full-speed packet. The control endpoint has the same size: the emulator's host knows no other.
const PACKET: usize = 64;

/// The line to a host.
pub struct Usb {
    device: UsbDevice<'static, UsbBus>,
    serial: SerialPort<'static, UsbBus>,
}

impl Usb {
    /// A device that a host can find. `None` when its description does not fit, which does not hang on the host.
    pub fn new(bus: &'static UsbBusAllocator<UsbBus>) -> Option<Self> {
        let serial = SerialPort::new(bus);
        let strings = [StringDescriptors::default().manufacturer("Gunline").product(USB_NAME)];
        let device = UsbDeviceBuilder::new(bus, UsbVidPid(USB_VENDOR, USB_PRODUCT))
            .strings(&strings)
            .ok()?
            .max_packet_size_0(PACKET as u8)
            .ok()?
            .device_class(USB_CLASS_CDC)
            .build();
        Some(Self { device, serial })
    }

    /// Moves what can be moved: at most a packet each way. True when there is more to do at once.
    pub fn turn(&mut self, talk: &mut Talk) -> bool {
        self.device.poll(&mut [&mut self.serial]);
        if talk.wants_bytes() {
            self.receive(talk);
        }
        let sent = self.send(talk.to_send());
        talk.sent(sent);
        sent > 0 && !talk.to_send().is_empty()
    }

    #[inline(never)]
    fn receive(&mut self, talk: &mut Talk) {
        let mut packet = [0; PACKET];
        let count = self.serial.read(&mut packet).unwrap_or_default();
        packet.iter().take(count).for_each(|byte| talk.push(*byte));
    }

    /// Takes what there is room for, and says how much that was; with nothing to take, hastens what was taken before.
    #[inline(never)]
    fn send(&mut self, bytes: &[u8]) -> usize {
        if bytes.is_empty() {
            let _ = self.serial.flush();
            return 0;
        }
        self.serial.write(bytes).unwrap_or_default()
    }
}
