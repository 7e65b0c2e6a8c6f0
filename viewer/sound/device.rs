//! The device that plays, by the library `cpal`; a viewer that was built without the feature `sound` has none and says so.
//!
//! A thread of its own holds the device as long as somebody may give orders, and feeds it. What goes wrong with a device ends that thread,
//! with a sentence; nothing else ends with it. While it is held for some seconds the device is closed, too.
//!
//! *Limits.* Of the rates that a device has, 48, 44.1 and 96 kHz are taken, in this order.

use std::sync::atomic::AtomicU32;
use std::sync::mpsc::{Receiver, Sender};
use std::sync::{Arc, Mutex};

use super::feeder::{Order, Pulse};

/// A device: several may share a name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Which {
    /// What it is chosen by.
    pub(crate) id: String,
    /// What it is shown as.
    pub(crate) name: String,
}

/// What a device says.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Said {
    /// Devices that there are.
    Devices(Vec<Which>),
    /// It plays, at so many samples a second.
    Opened(u32),
    /// It does not, or no longer: why, in one sentence.
    Lost(String),
    /// It was held for so long that it was closed.
    Closed,
    /// Something of the pulse has changed.
    Pulse,
}

/// The way back from a device.
#[derive(Clone)]
pub(crate) struct Voice {
    /// The number of the opening that it speaks of.
    pub(crate) line: u32,
    /// Where it is heard.
    pub(crate) back: Sender<(u32, Said)>,
    /// Wakes whoever listens there.
    pub(crate) wake: Arc<dyn Fn() + Send + Sync>,
}

/// What a device is given.
pub(crate) struct Line {
    /// Orders; when nobody is left to give any, the device is let go.
    pub(crate) orders: Receiver<Order>,
    /// The way back.
    pub(crate) voice: Voice,
    /// How it goes.
    pub(crate) pulse: Arc<Mutex<Pulse>>,
    /// Samples that came too late.
    pub(crate) gaps: Arc<AtomicU32>,
    /// Where the volume stands, dB re full scale.
    pub(crate) volume_db: f64,
}

impl Voice {
    /// Says something.
    pub(crate) fn say(&self, said: Said) {
        drop(self.back.send((self.line, said)));
        (self.wake)();
    }
}

/// Whatever plays.
pub(crate) trait Output: Send + Sync {
    /// Why this program cannot play at all, if it cannot.
    fn lack(&self) -> Option<&'static str>;
    /// Says which devices there are.
    fn list(&self, voice: Voice);
    /// Opens this device, or the usual one, and plays.
    fn open(&self, which: Option<Which>, line: Line);
}

/// The devices of this machine.
pub(crate) struct Machine;

#[cfg(not(feature = "sound"))]
impl Output for Machine {
    fn lack(&self) -> Option<&'static str> {
        Some(
            "This build has no sound output: build it with \"cargo run --release -p viewer --features sound\" (on Linux that needs the \
             headers of ALSA, libasound2-dev on Debian and Ubuntu). \"roomwright hear SCENE --sound all\" writes what is to be heard as files.",
        )
    }

    fn list(&self, _: Voice) {}

    fn open(&self, _: Option<Which>, line: Line) {
        line.voice.say(Said::Lost("this build has no sound output".to_owned()));
    }
}

#[cfg(feature = "sound")]
mod machine {
    use std::sync::Arc;
    use std::sync::atomic::{AtomicBool, Ordering};
    use std::thread;
    use std::time::Duration;

    use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
    use cpal::{Device, FromSample, SampleFormat, SizedSample, Stream, StreamConfig, StreamError};

    use super::super::feeder::{Feeder, Player};
    use super::{Line, Machine, Output, Said, Voice, Which};

    /// Rates that are taken, the best first.
    const RATES: [u32; 3] = [48_000, 44_100, 96_000];
    /// Between two looks of the feeder.
    const PAUSE: Duration = Duration::from_millis(4);
    /// What lies ready is played within this time.
    const LAST: Duration = Duration::from_millis(200);

    impl Output for Machine {
        fn lack(&self) -> Option<&'static str> {
            None
        }

        fn list(&self, voice: Voice) {
            thread::spawn(move || {
                let devices = cpal::default_host().output_devices();
                let found = devices.map(|devices| devices.filter_map(|device| which(&device)).collect());
                voice.say(Said::Devices(found.unwrap_or_default()));
            });
        }

        fn open(&self, which: Option<Which>, line: Line) {
            thread::spawn(move || {
                let voice = line.voice.clone();
                if let Err(why) = play(which.as_ref(), line) {
                    voice.say(Said::Lost(why));
                }
            });
        }
    }

    fn which(device: &Device) -> Option<Which> {
        let (id, description) = (device.id().ok()?, device.description().ok()?);
        Some(Which { id: id.to_string(), name: description.name().to_owned() })
    }

    /// Plays until nobody gives orders any more, or nothing has played for some seconds.
    fn play(wanted: Option<&Which>, line: Line) -> Result<(), String> {
        let device = find(wanted)?;
        let (config, format) = config(&device).map_err(|why| match wanted {
            Some(_) => why,
            None => format!("no sound device that plays was found on this machine ({why})"),
        })?;
        let voice = line.voice.clone();
        let (mut feeder, player) = Feeder::new(config.sample_rate, line);
        let is_lost = Arc::new(AtomicBool::new(false));
        let stream = match format {
            SampleFormat::F32 => open::<f32>(&device, &config, player, &is_lost),
            SampleFormat::I16 => open::<i16>(&device, &config, player, &is_lost),
            SampleFormat::I32 => open::<i32>(&device, &config, player, &is_lost),
            SampleFormat::U16 => open::<u16>(&device, &config, player, &is_lost),
            other => return Err(format!("the device takes samples as {other}, which are not made here; choose another one")),
        };
        let stream = stream.map_err(|cause| format!("the device cannot be opened: {cause}"))?;
        feeder.step();
        stream.play().map_err(|cause| format!("the device does not begin to play: {cause}"))?;
        voice.say(Said::Opened(config.sample_rate));
        loop {
            if is_lost.load(Ordering::Relaxed) {
                return Err("the device is gone; choose another one, or plug it in and play again".to_owned());
            }
            let (is_alive, is_new) = feeder.step();
            if is_new {
                voice.say(Said::Pulse);
            }
            if !is_alive {
                // What lies ready is played and dies away, without a click.
                thread::sleep(LAST);
                return Ok(());
            }
            if feeder.is_idle() {
                voice.say(Said::Closed);
                return Ok(());
            }
            thread::sleep(PAUSE);
        }
    }

    fn find(wanted: Option<&Which>) -> Result<Device, String> {
        let host = cpal::default_host();
        match wanted {
            None => host.default_output_device().ok_or_else(|| "no sound device was found on this machine".to_owned()),
            Some(wanted) => {
                let mut devices = host.output_devices().map_err(|cause| format!("devices cannot be listed: {cause}"))?;
                let found = devices.find(|device| device.id().is_ok_and(|id| id.to_string() == wanted.id));
                found.ok_or_else(|| format!("the device {} is not there any more; choose another one", wanted.name))
            }
        }
    }

    /// How it is opened: at two channels or as many as it has, with floats where it takes them.
    fn config(device: &Device) -> Result<(StreamConfig, SampleFormat), String> {
        let told = |cause: &dyn std::fmt::Display| format!("the device does not say what it plays: {cause}");
        let usual = device.default_output_config().map_err(|cause| told(&cause))?;
        let all: Vec<_> = device.supported_output_configs().map_err(|cause| told(&cause))?.collect();
        let fits = |rate: u32, format: SampleFormat| {
            let mut fitting = all.iter().filter(|range| range.sample_format() == format && range.channels() == usual.channels());
            fitting.find_map(|range| range.try_with_sample_rate(rate))
        };
        let formats = [usual.sample_format(), SampleFormat::F32, SampleFormat::I16, SampleFormat::I32, SampleFormat::U16];
        let mut choices = RATES.iter().flat_map(|rate| formats.iter().map(move |format| (*rate, *format)));
        let found = choices.find_map(|(rate, format)| fits(rate, format));
        let found = found.ok_or("the device plays at none of 48000, 44100 and 96000 samples a second; choose another one")?;
        Ok((found.config(), found.sample_format()))
    }

    fn open<T: SizedSample + FromSample<f32>>(
        device: &Device,
        config: &StreamConfig,
        mut player: Player,
        is_lost: &Arc<AtomicBool>,
    ) -> Result<Stream, cpal::BuildStreamError> {
        let (channels, is_lost) = (usize::from(config.channels), is_lost.clone());
        let callback = move |out: &mut [T], _: &cpal::OutputCallbackInfo| player.fill(out, channels, T::from_sample);
        let failed = move |error| {
            if !matches!(error, StreamError::BufferUnderrun) {
                is_lost.store(true, Ordering::Relaxed);
            }
        };
        device.build_output_stream(config, callback, failed, None)
    }
}
