//! A real Chromium, driven over its own protocol (the `DevTools` protocol, stable 1.3): one browser, one page, commands and events.
//!
//! Only what the sheet's tests need. The browser is the system's; nothing is downloaded.

use serde_json::{Value, json};
use std::io::{self, BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use tungstenite::{Message, WebSocket};

/// Longest wait for an answer: a busy machine with two cores.
const PATIENCE: Duration = Duration::from_secs(60);

/// The wire to Chromium. A signal to this process (that it stops and goes on, say) ends a wait that has a time limit before anything has come;
/// the wait begins again then.
struct Wire(TcpStream);

/// Does something again for as long as a signal ends it.
fn uninterrupted<T>(mut what: impl FnMut() -> io::Result<T>) -> io::Result<T> {
    loop {
        match what() {
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            done => return done,
        }
    }
}

impl Read for Wire {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        uninterrupted(|| self.0.read(into))
    }
}

impl Write for Wire {
    fn write(&mut self, from: &[u8]) -> io::Result<usize> {
        uninterrupted(|| self.0.write(from))
    }

    fn flush(&mut self) -> io::Result<()> {
        uninterrupted(|| self.0.flush())
    }
}

/// A browser with one page.
pub struct Browser {
    child: Child,
    socket: WebSocket<Wire>,
    session: Option<String>,
    sent: u64,
    /// Events in the order in which they came.
    pub events: Vec<Value>,
    _profile: tempfile::TempDir,
}

impl Browser {
    /// Starts the system's Chromium.
    pub fn start() -> Self {
        let profile = tempfile::tempdir().expect("a folder for the browser's profile");
        let mut command = Command::new(program());
        command
            .args([
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--disable-quic",
                "--disable-dev-shm-usage",
                "--no-first-run",
                "--disable-background-networking",
                "--disable-component-update",
                "--disable-sync",
                "--remote-debugging-port=0",
            ])
            .arg(format!("--user-data-dir={}", profile.path().display()))
            .arg("about:blank")
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::piped());
        let mut child = command.spawn().expect("Chromium starts");
        let mut lines = BufReader::new(child.stderr.take().expect("its messages")).lines();
        let address = lines
            .by_ref()
            .map_while(Result::ok)
            .find_map(|l| l.strip_prefix("DevTools listening on ").map(str::to_owned))
            .expect("Chromium names its port");
        // Its further messages are read away, or it would wait for somebody to do so.
        std::thread::spawn(move || lines.map_while(Result::ok).for_each(drop));
        let host = address.trim_start_matches("ws://").split('/').next().expect("a host").to_owned();
        let stream = TcpStream::connect(host).expect("Chromium listens");
        stream.set_read_timeout(Some(PATIENCE)).expect("a time limit");
        let (socket, _) = tungstenite::client(address.as_str(), Wire(stream)).expect("Chromium answers");
        let mut browser =
            Self { child, socket, session: None, sent: 0, events: Vec::new(), _profile: profile };
        let target = browser.call("Target.createTarget", json!({ "url": "about:blank" }));
        let attach = json!({ "targetId": target["targetId"], "flatten": true });
        let session = browser.call("Target.attachToTarget", attach);
        browser.session = session["sessionId"].as_str().map(str::to_owned);
        for domain in ["Page", "Runtime", "Log", "Network", "DOM"] {
            browser.call(&format!("{domain}.enable"), json!({}));
        }
        browser
    }

    /// Sends a command and waits for its answer.
    #[allow(clippy::needless_pass_by_value, reason = "every caller makes its parameters on the spot")]
    pub fn call(&mut self, method: &str, params: Value) -> Value {
        self.sent += 1;
        let mut message = json!({ "id": self.sent, "method": method, "params": params });
        if let Some(session) = &self.session {
            message["sessionId"] = json!(session);
        }
        self.socket.send(Message::text(message.to_string())).expect("the command goes out");
        loop {
            let answer = self.read();
            if answer["id"] == json!(self.sent) {
                assert!(answer["error"].is_null(), "{method}: {}", answer["error"]);
                return answer["result"].clone();
            }
            self.events.push(answer);
        }
    }

    fn read(&mut self) -> Value {
        let message = self.socket.read().expect("Chromium answers in time");
        serde_json::from_str(message.to_text().expect("text")).expect("JSON")
    }

    /// Opens a file and waits until it is loaded.
    pub fn open(&mut self, file: &Path) {
        self.events.clear();
        let url = format!("file://{}", file.display());
        self.call("Page.navigate", json!({ "url": url }));
        self.wait_for("Page.loadEventFired");
    }

    /// Waits for an event.
    pub fn wait_for(&mut self, method: &str) {
        let end = Instant::now() + PATIENCE;
        while !self.events.iter().any(|e| e["method"] == method) {
            assert!(Instant::now() < end, "{method} does not come");
            let event = self.read();
            self.events.push(event);
        }
    }

    /// What an expression gives in the page; a promise is waited for.
    pub fn eval(&mut self, expression: &str) -> Value {
        let params = json!({ "expression": expression, "returnByValue": true, "awaitPromise": true });
        let answer = self.call("Runtime.evaluate", params);
        assert!(answer["exceptionDetails"].is_null(), "{expression}: {}", answer["exceptionDetails"]);
        answer["result"]["value"].clone()
    }

    /// Waits until an expression is true.
    pub fn until(&mut self, expression: &str) {
        let end = Instant::now() + PATIENCE;
        while self.eval(expression) != json!(true) {
            assert!(Instant::now() < end, "never true: {expression}");
            std::thread::sleep(Duration::from_millis(30));
        }
    }

    /// Makes the page so wide and tall, with light or dark preferred.
    pub fn look(&mut self, width: u32, height: u32, scheme: &str) {
        let size = json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600 });
        self.call("Emulation.setDeviceMetricsOverride", size);
        let media = json!({ "features": [{ "name": "prefers-color-scheme", "value": scheme }] });
        self.call("Emulation.setEmulatedMedia", media);
    }

    /// Presses and lets go of a key.
    pub fn key(&mut self, key: &str) {
        let text = if key.chars().count() == 1 { key } else { "" };
        self.call("Input.dispatchKeyEvent", json!({ "type": "keyDown", "key": key, "text": text }));
        self.call("Input.dispatchKeyEvent", json!({ "type": "keyUp", "key": key }));
    }

    /// Clicks at a place in the window.
    pub fn click(&mut self, x: f64, y: f64) {
        for kind in ["mousePressed", "mouseReleased"] {
            let params = json!({ "type": kind, "x": x, "y": y, "button": "left", "clickCount": 1 });
            self.call("Input.dispatchMouseEvent", params);
        }
    }

    /// What went wrong in the page: errors of scripts, of the policy, of loading.
    pub fn troubles(&self) -> Vec<String> {
        let bad = |e: &&Value| match e["method"].as_str() {
            Some("Runtime.exceptionThrown") => true,
            Some("Log.entryAdded") => e["params"]["entry"]["level"] != "info",
            Some("Runtime.consoleAPICalled") => e["params"]["type"] != "log",
            _ => false,
        };
        self.events.iter().filter(bad).map(Value::to_string).collect()
    }

    /// Addresses that the page asked for.
    pub fn requests(&self) -> Vec<String> {
        let sent = self.events.iter().filter(|e| e["method"] == "Network.requestWillBeSent");
        sent.filter_map(|e| e["params"]["request"]["url"].as_str().map(str::to_owned)).collect()
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The system's Chromium.
fn program() -> String {
    let named = std::env::var("CHROMIUM").ok();
    let known = ["chromium", "chromium-browser", "google-chrome"].map(str::to_owned);
    let starts = |name: &String| {
        let mut version = Command::new(name);
        version.arg("--version").stdout(Stdio::null()).stderr(Stdio::null());
        version.status().is_ok_and(|s| s.success())
    };
    named.into_iter().chain(known).find(starts).expect(
        "these tests need Chromium: on Debian `apt-get install chromium`, elsewhere name the browser in CHROMIUM",
    )
}
