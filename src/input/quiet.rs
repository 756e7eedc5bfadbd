use std::cell::Cell;
use std::panic::{self, AssertUnwindSafe, PanicHookInfo};
use std::sync::Once;

/// What is called where something breaks off.
type Hook = Box<dyn Fn(&PanicHookInfo) + Send + Sync>;

thread_local! {
    /// Whether this thread is within [`quietly`].
    static QUIET: Cell<bool> = const { Cell::new(false) };
}

/// Does what may break off within a library, and gives back what it made, or nothing. Nobody hears of it where it does:
/// what would be printed is of use to nobody but the library's makers, and a user is told what is wrong with the file.
///
/// Whatever breaks off elsewhere, or meanwhile on another thread, is told as ever.
pub(super) fn quietly<T>(risky: impl FnOnce() -> T) -> Option<T> {
    static HUSHED: Once = Once::new();
    HUSHED.call_once(|| panic::set_hook(hushed(panic::take_hook())));
    let before = QUIET.replace(true);
    let made = panic::catch_unwind(AssertUnwindSafe(risky));
    QUIET.set(before);
    made.ok()
}

/// The same hook, but not called within [`quietly`].
fn hushed(hook: Hook) -> Hook {
    Box::new(move |info| {
        // A thread that is ending has no such mark any more, and is not within it.
        if !QUIET.try_with(Cell::get).unwrap_or(false) {
            hook(info);
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::thread;

    #[test]
    fn what_breaks_off_is_told_outside_alone() {
        static TOLD: AtomicUsize = AtomicUsize::new(0);
        assert_eq!(quietly(|| 3), Some(3));
        let (before, here) = (panic::take_hook(), thread::current().id());
        panic::set_hook(hushed(Box::new(move |_| {
            if thread::current().id() == here {
                TOLD.fetch_add(1, Ordering::Relaxed);
            }
        })));
        let broken: Option<()> = quietly(|| panic!("a decoder"));
        let quiet = TOLD.load(Ordering::Relaxed);
        let told = panic::catch_unwind(|| panic!("another"));
        panic::set_hook(before);
        assert!(broken.is_none() && told.is_err());
        assert_eq!((quiet, TOLD.load(Ordering::Relaxed)), (0, 1));
    }
}
