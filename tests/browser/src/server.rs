//! A local server that counts what is asked of it.

use std::io::{Read as _, Write as _};
use std::net::{TcpListener, TcpStream};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use crate::Outcome;

/// Listens on the loopback address only and counts requests.
#[derive(Debug)]
pub struct CountingServer {
    port: u16,
    calls: Arc<Mutex<Vec<String>>>,
    closing: Arc<AtomicBool>,
}

impl CountingServer {
    /// Starts one on a free port.
    ///
    /// **Errors** where no port can be had.
    pub fn start() -> Outcome<CountingServer> {
        let listener = TcpListener::bind(("127.0.0.1", 0))?;
        let port = listener.local_addr()?.port();
        let (calls, closing) = (Arc::new(Mutex::new(Vec::new())), Arc::new(AtomicBool::new(false)));
        let (count, stop) = (Arc::clone(&calls), Arc::clone(&closing));
        std::thread::spawn(move || {
            for stream in listener.incoming().flatten() {
                if stop.load(Ordering::SeqCst) {
                    return;
                }
                let count = Arc::clone(&count);
                std::thread::spawn(move || answer(stream, &count));
            }
        });
        Ok(CountingServer { port, calls, closing })
    }

    /// Its address without a scheme, such as `127.0.0.1:4000`.
    pub fn address(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    /// The first line of each request so far. A bare connection without one is none: Chromium opens
    /// one for a frame before it asks the policy, and closes it unused.
    pub fn calls(&self) -> Vec<String> {
        self.calls.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }
}

impl Drop for CountingServer {
    fn drop(&mut self) {
        self.closing.store(true, Ordering::SeqCst);
        let _ = TcpStream::connect(("127.0.0.1", self.port));
    }
}

/// Any answer will do, so long as a browser does not try again.
fn answer(mut stream: TcpStream, calls: &Mutex<Vec<String>>) {
    let _ = stream.set_read_timeout(Some(Duration::from_secs(1)));
    let mut request = [0; 4096];
    let length = stream.read(&mut request).unwrap_or(0);
    let first = String::from_utf8_lossy(&request[..length]).lines().next().unwrap_or_default().to_owned();
    if !first.is_empty() {
        calls.lock().unwrap_or_else(PoisonError::into_inner).push(first);
    }
    let _ = stream.write_all(
        b"HTTP/1.1 200 OK\r\nAccess-Control-Allow-Origin: *\r\nContent-Type: text/javascript\r\n\
          Content-Length: 0\r\nConnection: close\r\n\r\n",
    );
}
