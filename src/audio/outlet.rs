//! What drives kira's renderer: a stream of cpal whose callback hands on how late each block will be heard.
//!
//! The backend that kira brings keeps that to itself. Cannot: know what is played.

use super::stream::Pace;
use ::kira::backend::cpal::cpal;
use ::kira::backend::{Backend, Renderer};
use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::time::Duration;

/// Frames that are rendered, and stamped, at a time: 2.7 ms at 48 kHz.
pub(super) const PIECE: usize = 128;

/// Complaints that are kept until somebody asks; further ones say nothing new.
const KEPT: usize = 64;

/// A device and how it is driven.
pub(super) struct Outlet {
    device: cpal::Device,
    config: cpal::StreamConfig,
    pace: Arc<Pace>,
    complaints: (SyncSender<cpal::Error>, Receiver<cpal::Error>),
    /// Plays until it is dropped.
    stream: Option<cpal::Stream>,
}

/// Which device; the system's own choice where `None`.
pub(super) type Wanted = Option<cpal::Device>;

impl Outlet {
    /// What its callback says.
    pub(super) fn pace(&self) -> Arc<Pace> {
        self.pace.clone()
    }

    pub(super) fn rate_hz(&self) -> u32 {
        self.config.sample_rate
    }

    /// What the device complained of next.
    pub(super) fn complaint(&self) -> Option<cpal::Error> {
        self.complaints.1.try_recv().ok()
    }
}

impl Backend for Outlet {
    type Settings = Wanted;
    type Error = cpal::Error;

    fn setup(wanted: Wanted, _: usize) -> Result<(Self, u32), cpal::Error> {
        let device = wanted
            .or_else(|| cpal::default_host().default_output_device())
            .ok_or_else(|| cpal::Error::from(cpal::ErrorKind::DeviceNotAvailable))?;
        let config = device.default_output_config()?.config();
        let rate_hz = config.sample_rate;
        let complaints = sync_channel(KEPT);
        Ok((Self { device, config, pace: Arc::default(), complaints, stream: None }, rate_hz))
    }

    fn start(&mut self, mut renderer: Renderer) -> Result<(), cpal::Error> {
        let channels = usize::from(self.config.channels).max(1);
        let piece_ns = PIECE as u64 * 1_000_000_000 / u64::from(self.config.sample_rate).max(1);
        let (pace, complaints) = (self.pace.clone(), self.complaints.0.clone());
        let stream = self.device.build_output_stream(
            self.config,
            move |out: &mut [f32], info: &cpal::OutputCallbackInfo| {
                let stamp = info.timestamp();
                let delay = stamp.playback.checked_duration_since(stamp.callback).unwrap_or(Duration::ZERO);
                let mut heard_in_ns = delay.as_nanos() as u64;
                renderer.on_start_processing();
                for piece in out.chunks_mut(PIECE * channels) {
                    pace.says(heard_in_ns);
                    renderer.process(piece, channels as u16);
                    pace.took((piece.len() / channels) as u64);
                    heard_in_ns += piece_ns;
                }
            },
            move |error| _ = complaints.try_send(error),
            None,
        )?;
        stream.play()?;
        self.stream = Some(stream);
        Ok(())
    }
}
