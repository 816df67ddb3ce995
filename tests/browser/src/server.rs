//! A local server that counts who calls it.

use std::io::{Read as _, Write as _};
use std::net::{TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

use crate::Outcome;

/// Listens on the loopback address only and counts connections.
#[derive(Debug)]
pub struct CountingServer {
    port: u16,
    calls: Arc<AtomicUsize>,
    closing: Arc<AtomicBool>,
}

impl CountingServer {
    /// Starts one on a free port.
    ///
    /// **Errors** where no port can be had.
    pub fn start() -> Outcome<CountingServer> {
        let listener = TcpListener::bind(("127.0.0.1", 0))?;
        let port = listener.local_addr()?.port();
        let (calls, closing) = (Arc::new(AtomicUsize::new(0)), Arc::new(AtomicBool::new(false)));
        let (count, stop) = (Arc::clone(&calls), Arc::clone(&closing));
        std::thread::spawn(move || {
            for stream in listener.incoming().flatten() {
                if stop.load(Ordering::SeqCst) {
                    return;
                }
                count.fetch_add(1, Ordering::SeqCst);
                std::thread::spawn(move || answer(stream));
            }
        });
        Ok(CountingServer { port, calls, closing })
    }

    /// Its address without a scheme, such as `127.0.0.1:4000`.
    pub fn address(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    /// Connections so far.
    pub fn calls(&self) -> usize {
        self.calls.load(Ordering::SeqCst)
    }
}

impl Drop for CountingServer {
    fn drop(&mut self) {
        self.closing.store(true, Ordering::SeqCst);
        let _ = TcpStream::connect(("127.0.0.1", self.port));
    }
}

/// Any answer will do, so long as a browser does not try again.
fn answer(mut stream: TcpStream) {
    let _ = stream.set_read_timeout(Some(Duration::from_secs(1)));
    let _ = stream.read(&mut [0; 4096]);
    let _ = stream.write_all(
        b"HTTP/1.1 200 OK\r\nAccess-Control-Allow-Origin: *\r\nContent-Type: text/javascript\r\n\
          Content-Length: 0\r\nConnection: close\r\n\r\n",
    );
}
