/// Priority among real-time threads, 1 to 99: above ordinary real-time work, below what sound
/// servers take for their own threads (JACK's clients 65 and up), which must not wait for us.
const PRIORITY: u8 = 60;

/// Of the thread that looks after the player's hand: above everything ordinary, or a busy machine lets
/// a key wait for a tenth of a second and more; below all that sounds.
#[cfg(unix)]
const HAND: u8 = 5;

/// Raises the calling thread, which looks after the player's keys, so that it obeys them at once on a
/// busy machine. Threads that it starts afterwards are raised too. Does nothing where the system does
/// not grant it: [`raise_priority`] tells of that.
pub fn raise_hand_priority() {
    #[cfg(unix)]
    let _ = raise(HAND);
}

/// Raises the calling thread so that it wakes on time on a busy machine.
///
/// # Errors
/// The system does not grant it; says what that means and what to do.
pub fn raise_priority() -> Result<(), String> {
    raise(PRIORITY).map_err(|cause| {
        format!(
            "this system does not grant real-time priority ({cause}); playing goes on, but while \
             other programs work hard notes can come some milliseconds late{}",
            if cfg!(target_os = "linux") {
                " (to get it, join the group that /etc/security/limits.d grants rtprio, often \"audio\")"
            } else {
                ""
            }
        )
    })
}

#[cfg(unix)]
fn raise(priority: u8) -> Result<(), String> {
    use thread_priority::{
        RealtimeThreadSchedulePolicy, ThreadPriority, ThreadPriorityValue, ThreadSchedulePolicy,
        set_thread_priority_and_policy, thread_native_id,
    };

    let value = ThreadPriorityValue::try_from(priority)?;
    // First in, first out: once awake it runs until it sleeps again. It always does; the longest it
    // keeps a core is the millisecond of spinning before a note, or the drawing of a screen.
    let policy = ThreadSchedulePolicy::Realtime(RealtimeThreadSchedulePolicy::Fifo);
    set_thread_priority_and_policy(thread_native_id(), ThreadPriority::Crossplatform(value), policy)
        .map_err(|error| match error {
            thread_priority::Error::OS(code) => std::io::Error::from_raw_os_error(code).to_string(),
            other => format!("{other:?}"),
        })
}

#[cfg(not(unix))]
fn raise(_priority: u8) -> Result<(), String> {
    thread_priority::ThreadPriority::Max.set_for_current().map_err(|error| format!("{error:?}"))
}
