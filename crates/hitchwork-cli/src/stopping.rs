//! How long work is asked to stop: by Ctrl-C, by a system that ends (SIGTERM), or by a
//! terminal that is closed (SIGHUP). All of them let it keep what is done and say how to go on.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use crate::trouble::Trouble;

/// Becomes true when the command is asked to stop; when it is asked for the second time, it
/// ends at once.
pub(crate) fn stopped_from_outside() -> Result<Arc<AtomicBool>, Trouble> {
    let stop = Arc::new(AtomicBool::new(false));
    let asked = Arc::clone(&stop);
    listen(asked).map_err(|error| {
        Trouble::new(
            format!("the system does not say when the command is asked to stop: {error}"),
            "try again; the command was not begun",
        )
    })?;
    Ok(stop)
}

fn listen(asked: Arc<AtomicBool>) -> io::Result<()> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_io()
        .build()?;
    // From here on nothing that is asked is missed.
    let mut requests = {
        let _entered = runtime.enter();
        Requests::new()?
    };
    let listening = move || {
        runtime.block_on(async {
            requests.next().await;
            asked.store(true, Ordering::Relaxed);
            std::process::exit(requests.next().await);
        });
    };
    std::thread::Builder::new()
        .name("stopping".to_owned())
        .spawn(listening)?;
    Ok(())
}

/// Listens from this call on, not only once it is waited for: what it gives waits until the command
/// is asked to stop. Called within a runtime.
pub(crate) fn asked_to_stop() -> impl Future<Output = ()> {
    let requests = Requests::new();
    async {
        match requests {
            Ok(mut requests) => {
                requests.next().await;
            }
            // Then the system ends it as it ends any other.
            Err(_) => std::future::pending().await,
        }
    }
}

/// What a system ends a command with, each with the exit status that is usual for it.
#[cfg(unix)]
struct Requests(Vec<(tokio::signal::unix::Signal, i32)>);

#[cfg(unix)]
impl Requests {
    fn new() -> io::Result<Self> {
        use tokio::signal::unix::{SignalKind, signal};
        let kinds = [
            SignalKind::interrupt(),
            SignalKind::terminate(),
            SignalKind::hangup(),
        ];
        // Whoever starts a command so that it outlives the terminal (`nohup`) or stays in the
        // background has it ignore some of these; it goes on ignoring them.
        let ignored = ignored();
        let heard = kinds.into_iter().filter(|kind| {
            let number = kind.as_raw_value();
            ignored >> (number - 1) & 1 == 0
        });
        let listened = heard.map(|kind| Ok((signal(kind)?, 128 + kind.as_raw_value())));
        Ok(Self(listened.collect::<io::Result<_>>()?))
    }

    async fn next(&mut self) -> i32 {
        std::future::poll_fn(|context| {
            let ready = |(signal, status): &mut (tokio::signal::unix::Signal, i32)| {
                signal.poll_recv(context).is_ready().then_some(*status)
            };
            match self.0.iter_mut().find_map(ready) {
                Some(status) => std::task::Poll::Ready(status),
                None => std::task::Poll::Pending,
            }
        })
        .await
    }
}

/// The signals that this process ignores, one to a bit, where the system says so: Linux does.
#[cfg(unix)]
fn ignored() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let mask = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    mask.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok())
        .unwrap_or(0)
}

#[cfg(windows)]
struct Requests {
    interrupt: tokio::signal::windows::CtrlC,
    halt: tokio::signal::windows::CtrlBreak,
    close: tokio::signal::windows::CtrlClose,
    shutdown: tokio::signal::windows::CtrlShutdown,
}

#[cfg(windows)]
impl Requests {
    fn new() -> io::Result<Self> {
        use tokio::signal::windows::{ctrl_break, ctrl_c, ctrl_close, ctrl_shutdown};
        Ok(Self {
            interrupt: ctrl_c()?,
            halt: ctrl_break()?,
            close: ctrl_close()?,
            shutdown: ctrl_shutdown()?,
        })
    }

    async fn next(&mut self) -> i32 {
        tokio::select! {
            _ = self.interrupt.recv() => {}
            _ = self.halt.recv() => {}
            _ = self.close.recv() => {}
            _ = self.shutdown.recv() => {}
        }
        130
    }
}
