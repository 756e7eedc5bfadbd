use super::*;

#[test]
fn names_choose_one_device_or_say_why_not() {
    let device = |name: &str, id: &str| SoundDevice {
        name: name.to_owned(),
        id: id.to_owned(),
        default: false,
        sample_rate: 48_000,
        channels: 2,
    };
    let all = [device("Desk Speakers", "hw:0"), device("Dock", "hw:1"), device("Do", "hw:2")];
    assert_eq!(choose(&all, "speak"), Ok(0));
    assert_eq!(choose(&all, "hw:1"), Ok(1));
    assert_eq!(choose(&all, "Do"), Ok(2), "the exact name comes first");
    assert!(
        matches!(choose(&all, "d"), Err(SoundError::SeveralDevices { matches, .. }) if matches.len() == 3)
    );
    assert!(
        matches!(choose(&all, "hall"), Err(SoundError::NoSuchDevice { there, .. }) if there.len() == 3)
    );
}

#[test]
fn the_systems_refusals_are_told_apart() {
    let told = |kind: ErrorKind| refusal("Dock", &kind.into());
    let name = || "Dock".to_owned();
    assert_eq!(told(ErrorKind::DeviceBusy), SoundError::Busy { name: name() });
    assert_eq!(told(ErrorKind::PermissionDenied), SoundError::Denied { name: name() });
    assert_eq!(told(ErrorKind::DeviceNotAvailable), SoundError::Lost { name: name() });
    assert!(matches!(told(ErrorKind::UnsupportedConfig), SoundError::Unsupported { .. }));
    let shared = LiveShared::new(960, Nanos(0));
    note(&shared, "Dock", &ErrorKind::Xrun.into());
    assert!(shared.failure.get().is_none() && shared.dropouts.load(Ordering::Relaxed) == 1);
    // A sound server now and then fails to say how far it is and then plays on.
    note(&shared, "Dock", &ErrorKind::BackendError.into());
    assert!(shared.failure.get().is_none() && !shared.moved.load(Ordering::Relaxed));
    note(&shared, "Dock", &ErrorKind::DeviceChanged.into());
    assert!(shared.failure.get().is_none() && shared.moved.load(Ordering::Relaxed));
    note(&shared, "Dock", &ErrorKind::DeviceNotAvailable.into());
    assert_eq!(shared.failure.get(), Some(&SoundError::Lost { name: name() }));
}

fn filled<T: SizedSample + FromSample<f32>>(channels: u16, frames: usize) -> (Vec<T>, SoundPort) {
    let renderer = Box::new(Ramp { at: 0, silenced: false });
    let form = (channels, 960);
    let (port, mut source) =
        SoundPort::new(renderer, "made up", form, &Volume::default(), Instant::now());
    let mut samples = vec![T::EQUILIBRIUM; frames * usize::from(channels)];
    source.fill(&mut samples, (Nanos(0), Nanos(0)), T::from_sample, T::EQUILIBRIUM);
    (samples, port)
}

/// Counts up on the left and down on the right.
struct Ramp {
    at: u64,
    silenced: bool,
}

impl crate::synth::Renderer for Ramp {
    fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        for (left, right) in left.iter_mut().zip(right) {
            self.at += 1;
            *left = self.at as f32 / 32_768.0;
            *right = -*left / 2.0;
        }
    }
    fn sample_rate(&self) -> u32 {
        48_000
    }
    fn position_frames(&self) -> u64 {
        self.at
    }
    fn total_frames(&self) -> u64 {
        u64::MAX
    }
    fn finished(&self) -> bool {
        self.silenced
    }
    fn silence(&mut self) {
        self.silenced = true;
    }
}

impl LiveRenderer for Ramp {
    fn reckoned(&self) -> u64 {
        self.at
    }
    fn reckoned_after(&self, frames: usize) -> u64 {
        self.at + frames as u64
    }
    fn take(&mut self, _: u64, _: crate::perform::Message) -> bool {
        true
    }
}

#[test]
fn every_form_and_number_of_channels() {
    let (mono, _) = filled::<f32>(1, 3);
    assert_eq!(mono, [0.25, 0.5, 0.75].map(|x: f32| x / 32_768.0));
    let (stereo, _) = filled::<i16>(2, 1_000);
    assert_eq!((stereo[..4].to_vec(), stereo[1_998]), (vec![1, 0, 2, -1], 1_000));
    let (six, _) = filled::<u16>(6, 2);
    assert_eq!(six[6..], [32_770, 32_767, 32_768, 32_768, 32_768, 32_768]);
}

#[test]
fn a_stop_is_told_and_its_end_as_well() {
    let renderer = Box::new(Ramp { at: 0, silenced: false });
    let (port, mut source) =
        SoundPort::new(renderer, "made up", (2, 960), &Volume::default(), Instant::now());
    let shared = port.shared();
    let mut fill = || source.fill(&mut [0.0; 20], (Nanos(0), Nanos(0)), |x| x, 0.0);
    fill();
    assert!(!shared.finished.load(Ordering::Relaxed));
    shared.stop.store(true, Ordering::Relaxed);
    fill();
    assert!(shared.finished.load(Ordering::Relaxed));
}
