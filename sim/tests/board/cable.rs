//! A cable between the command and a fake board: a pseudo-terminal that can be pulled and plugged in again.

use std::fs;
use std::io::{ErrorKind, Read, Write};
use std::os::fd::AsRawFd;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use nix::fcntl::{FcntlArg, FdFlag, fcntl};
use serialport::{SerialPort, TTYPort};

use crate::fake::Fake;
use crate::torture::Torture;

/// A plugged cable. Its port keeps its name when it is plugged in again.
pub struct Cable {
    port: PathBuf,
    /// Comes back when the cable is out.
    board: Arc<Mutex<Option<Receiver<Fake>>>>,
    stop: Arc<AtomicBool>,
}

impl Cable {
    /// Plugs a board in; its port is in `folder`.
    pub fn plug(folder: &Path, board: Fake, torture: Option<Torture>) -> Self {
        let port = folder.join("dash");
        let (out, comes_back) = channel();
        let stop = Arc::new(AtomicBool::new(false));
        let pair = new_pair(&port);
        let stopped = Arc::clone(&stop);
        thread::spawn(move || run(pair, board, torture, &stopped, &out));
        Self { port, board: Arc::new(Mutex::new(Some(comes_back))), stop }
    }

    /// The port's name.
    pub fn port(&self) -> &str {
        self.port.to_str().unwrap()
    }

    /// Pulls the cable, unless the fake has done so itself, and gives the board back.
    pub fn pull(&self) -> Fake {
        self.stop.store(true, Ordering::SeqCst);
        let comes_back = self.board.lock().unwrap().take().expect("nobody else waits for the board");
        comes_back.recv().unwrap()
    }

    /// Waits for the fake to pull its cable, does something to it, and plugs it in again.
    pub fn plug_in_again(&self, change: impl FnOnce(&mut Fake) + Send + 'static) -> JoinHandle<Self> {
        let comes_back = self.board.lock().unwrap().take().expect("nobody else waits for the board");
        let folder = self.port.parent().unwrap().to_owned();
        thread::spawn(move || {
            let mut board = comes_back.recv().unwrap();
            change(&mut board);
            Self::plug(&folder, board, None)
        })
    }
}

/// A pseudo-terminal: the board's end, the other end, which is kept open lest the first sees an end of file.
fn new_pair(port: &Path) -> (TTYPort, TTYPort) {
    let (mut master, slave) = TTYPort::pair().unwrap();
    master.set_timeout(Duration::from_millis(5)).unwrap();
    // Else every command started meanwhile holds the ends too, and pulling the cable is not felt.
    for end in [&master, &slave] {
        fcntl(end.as_raw_fd(), FcntlArg::F_SETFD(FdFlag::FD_CLOEXEC)).unwrap();
    }
    let _ = fs::remove_file(port);
    symlink(slave.name().unwrap(), port).unwrap();
    (master, slave)
}

/// The board's life at the cable, until it is pulled.
fn run(
    (mut master, slave): (TTYPort, TTYPort),
    mut board: Fake,
    mut torture: Option<Torture>,
    stop: &AtomicBool,
    out: &Sender<Fake>,
) {
    while !stop.load(Ordering::SeqCst) {
        let mut packet = [0; 64];
        let heard = match master.read(&mut packet) {
            Ok(len) => &packet[..len],
            Err(error) if error.kind() == ErrorKind::TimedOut => continue,
            Err(error) => panic!("the cable: {error}"),
        };
        let heard = torture.as_mut().map_or(heard.to_vec(), |line| line.heard_by_board(heard));
        let says = board.turn(&heard);
        let says = torture.as_mut().map_or(says.clone(), |line| line.heard_by_host(&says));
        master.write_all(&says).unwrap();
        if board.is_to_be_unplugged() {
            break;
        }
    }
    drop((master, slave));
    // Nobody may wait for it any more.
    let _ = out.send(board);
}
