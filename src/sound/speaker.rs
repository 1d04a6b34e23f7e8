//! The system's own sound output.

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{FromSample, SampleFormat, SizedSample, StreamConfig, SupportedStreamConfig};

use super::device::{Device, DeviceError, Fill, PlayingDevice};

/// Frames that are filled at once; a longer block is filled in parts.
const PART_FRAMES: usize = 1024;

/// The system's usual output.
pub struct Speaker {
    device: cpal::Device,
    config: SupportedStreamConfig,
}

impl Speaker {
    /// Finds it.
    ///
    /// # Errors
    /// [`DeviceError::None`], [`DeviceError::Refused`].
    pub fn find() -> Result<Speaker, DeviceError> {
        let device = cpal::default_host().default_output_device().ok_or(DeviceError::None)?;
        let config = device.default_output_config().map_err(refused)?;
        Ok(Speaker { device, config })
    }

    fn start_as<T>(&self, rate_hz: u32, mut fill: Fill) -> Result<cpal::Stream, DeviceError>
    where
        T: SizedSample + FromSample<f32>,
    {
        let config = StreamConfig { sample_rate: rate_hz, ..self.config.config() };
        let channels = usize::from(config.channels).max(1);
        let mut part = [0.0; 2 * PART_FRAMES];
        let play = move |out: &mut [T], _: &cpal::OutputCallbackInfo| {
            for out in out.chunks_mut(channels * PART_FRAMES) {
                let part = &mut part[..2 * (out.len() / channels)];
                fill(part);
                for (out, frame) in out.chunks_mut(channels).zip(part.chunks(2)) {
                    place(out, [frame[0], frame[1]]);
                }
            }
        };
        // What the device has to say comes between blocks, and the next block is filled as ever.
        let stream = self.device.build_output_stream(config, play, |_| (), None);
        let stream = stream.map_err(refused)?;
        stream.play().map_err(refused)?;
        Ok(stream)
    }
}

/// Left and right to the first two channels, both to a single one, silence to the others.
fn place<T: SizedSample + FromSample<f32>>(out: &mut [T], [left, right]: [f32; 2]) {
    match out {
        [one] => *one = T::from_sample(0.5 * (left + right)),
        [first, second, others @ ..] => {
            *first = T::from_sample(left);
            *second = T::from_sample(right);
            others.fill(T::from_sample(0.0));
        }
        [] => {}
    }
}

impl Device for Speaker {
    fn rate_hz(&self) -> u32 {
        self.config.sample_rate()
    }

    fn start(&self, rate_hz: u32, fill: Fill) -> Result<Box<dyn PlayingDevice>, DeviceError> {
        let stream = match self.config.sample_format() {
            SampleFormat::F32 => self.start_as::<f32>(rate_hz, fill),
            SampleFormat::I32 => self.start_as::<i32>(rate_hz, fill),
            SampleFormat::I16 => self.start_as::<i16>(rate_hz, fill),
            SampleFormat::U16 => self.start_as::<u16>(rate_hz, fill),
            other => Err(DeviceError::Refused(format!("its samples are {other}"))),
        };
        stream.map(|stream| Box::new(stream) as Box<dyn PlayingDevice>)
    }
}

impl PlayingDevice for cpal::Stream {}

fn refused(error: cpal::Error) -> DeviceError {
    DeviceError::Refused(error.to_string())
}

#[cfg(test)]
mod tests {
    use super::place;

    #[test]
    fn any_number_of_channels_is_served() {
        let mut six = [9.0_f32; 6];
        place(&mut six, [0.25, -0.5]);
        assert_eq!(six, [0.25, -0.5, 0.0, 0.0, 0.0, 0.0]);
        let mut one = [9_i16];
        place(&mut one, [0.5, 0.25]);
        assert_eq!(one, [12_288]);
        place::<f32>(&mut [], [1.0, 1.0]);
    }
}
