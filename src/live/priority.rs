/// Priority among real-time threads, 1 to 99: above ordinary real-time work, below what sound
/// servers take for their own threads (JACK's clients 65 and up), which must not wait for us.
#[cfg(unix)]
const PRIORITY: u8 = 60;

/// Raises the calling thread so that it wakes on time on a busy machine.
///
/// # Errors
/// The system does not grant it; says what that means and what to do.
pub fn raise_priority() -> Result<(), String> {
    raise().map_err(|cause| {
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
fn raise() -> Result<(), String> {
    use thread_priority::{
        RealtimeThreadSchedulePolicy, ThreadPriority, ThreadPriorityValue, ThreadSchedulePolicy,
        set_thread_priority_and_policy, thread_native_id,
    };

    let value = ThreadPriorityValue::try_from(PRIORITY)?;
    // First in, first out: once awake it runs until it sleeps again. It always does; the longest it
    // keeps a core is the millisecond of spinning before a note.
    let policy = ThreadSchedulePolicy::Realtime(RealtimeThreadSchedulePolicy::Fifo);
    set_thread_priority_and_policy(thread_native_id(), ThreadPriority::Crossplatform(value), policy)
        .map_err(|error| match error {
            thread_priority::Error::OS(code) => std::io::Error::from_raw_os_error(code).to_string(),
            other => format!("{other:?}"),
        })
}

#[cfg(not(unix))]
fn raise() -> Result<(), String> {
    thread_priority::ThreadPriority::Max.set_for_current().map_err(|error| format!("{error:?}"))
}
