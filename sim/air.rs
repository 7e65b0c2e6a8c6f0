//! The air: how fast sound travels in it, how dense it is, how much of the sound it swallows.
//!
//! With `T` in kelvin, `T0` = 293.15 K, `T01` = 273.16 K, `p0` = 101.325 kPa and relative humidity `hr` in percent:
//!
//! - speed `c = 343.2 sqrt(T / T0)` m/s
//! - density `rho = p / (R T)` with R = 287.05 J/(kg K), dry air
//! - molar humidity in percent `h = hr 10^(-6.8346 (T01/T)^1.261 + 4.6151) p0 / p`
//! - relaxation frequencies in Hz `fO = (p/p0) (24 + 4.04e4 h (0.02 + h) / (0.391 + h))` of oxygen,
//!   `fN = (p/p0) (T/T0)^(-1/2) (9 + 280 h exp(-4.170 ((T/T0)^(-1/3) - 1)))` of nitrogen
//! - attenuation in dB/m at frequency `f`
//!   `8.686 f^2 [1.84e-11 (p0/p) (T/T0)^(1/2) + (T/T0)^(-5/2) (0.01275 e^(-2239.1/T) / (fO + f^2/fO) + 0.1068 e^(-3352/T) / (fN + f^2/fN))]`
//!
//! A band takes the value of the pure tone at its exact mid-band frequency; as energy, `e^(-m x)` with `m = 0.1 ln(10)` times the dB/m.
//!
//! *References.* ISO 9613-1:1993, clause 6 (formulas, a transcription was read); the speed of sound is that of the same standard
//! (from memory). Density: ideal gas.
//!
//! *Limits.* The standard states an error within 10 % for -20 to 50 degrees C, 10 to 100 % humidity, pressure below 200 kPa. The change of speed and
//! density with humidity (under 0.4 % and 1 % in a room) is left out. A band of real sound decays less steeply than its mid tone
//! where attenuation grows within the band; in a small room the path is too short for this to show.

use crate::bands::{Band, Bands};

/// Temperature at which the formulas are anchored, kelvin.
const REFERENCE_TEMPERATURE: f64 = 293.15;
/// Triple point of water, kelvin.
const TRIPLE_POINT: f64 = 273.16;
/// Zero of the Celsius scale, kelvin.
const ZERO_CELSIUS: f64 = 273.15;
/// Reference pressure, kilopascals.
const REFERENCE_PRESSURE: f64 = 101.325;
/// Speed of sound at the reference temperature, m/s.
pub const REFERENCE_SPEED: f64 = 343.2;
/// Gas constant of dry air, J/(kg K).
const GAS_CONSTANT: f64 = 287.05;

/// The air as the solvers see it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Medium {
    /// Speed of sound in m/s.
    pub speed: f64,
    /// Density in kg/m3.
    pub density: f64,
    /// Energy attenuation in 1/m by band: energy falls as `e^(-attenuation x)`.
    pub attenuation: Bands<f64>,
}

impl Medium {
    /// Air of this temperature in degrees Celsius, relative humidity in percent and static pressure in kilopascals.
    #[must_use]
    pub fn new(temperature_c: f64, humidity_percent: f64, pressure_kpa: f64) -> Self {
        let kelvin = temperature_c + ZERO_CELSIUS;
        Self {
            speed: REFERENCE_SPEED * (kelvin / REFERENCE_TEMPERATURE).sqrt(),
            density: 1000.0 * pressure_kpa / (GAS_CONSTANT * kelvin),
            attenuation: Bands::from_fn(|band| {
                energy_attenuation(attenuation_db_per_m(band.center(), temperature_c, humidity_percent, pressure_kpa))
            }),
        }
    }

    /// Air at 20 degrees Celsius, 50 % humidity and 101.325 kPa, except that sound travels at `speed` m/s.
    #[must_use]
    pub fn with_speed(speed: f64) -> Self {
        Self { speed, ..Self::new(20.0, 50.0, REFERENCE_PRESSURE) }
    }

    /// The same air without its attenuation: what closed forms of closed rooms assume.
    #[must_use]
    pub fn without_attenuation(self) -> Self {
        Self { attenuation: Bands::splat(0.0), ..self }
    }

    /// Share of the energy that is left after `distance` meters.
    #[must_use]
    pub fn transmission(&self, distance: f64) -> Bands<f64> {
        self.attenuation.map(|attenuation| (-attenuation * distance).exp())
    }

    /// Wavelength in meters at the middle of a band.
    #[must_use]
    pub fn wavelength(&self, band: Band) -> f64 {
        self.speed / band.center()
    }
}

/// Attenuation of a pure tone of `frequency` Hz in dB/m, in air of this temperature (degrees Celsius), relative humidity (percent) and
/// static pressure (kilopascals).
#[must_use]
pub fn attenuation_db_per_m(frequency: f64, temperature_c: f64, humidity_percent: f64, pressure_kpa: f64) -> f64 {
    let kelvin = temperature_c + ZERO_CELSIUS;
    let relative_temperature = kelvin / REFERENCE_TEMPERATURE;
    let relative_pressure = pressure_kpa / REFERENCE_PRESSURE;
    // ISO 9613-1 writes these h, f_rO and f_rN.
    let saturation = 10.0_f64.powf(-6.8346 * (TRIPLE_POINT / kelvin).powf(1.261) + 4.6151);
    let molar_humidity = humidity_percent * saturation / relative_pressure;
    let oxygen = relative_pressure * (24.0 + 4.04e4 * molar_humidity * (0.02 + molar_humidity) / (0.391 + molar_humidity));
    let nitrogen = relative_pressure / relative_temperature.sqrt()
        * (9.0 + 280.0 * molar_humidity * (-4.170 * (relative_temperature.powf(-1.0 / 3.0) - 1.0)).exp());
    let square = frequency * frequency;
    let classical = 1.84e-11 / relative_pressure * relative_temperature.sqrt();
    let relaxation = relative_temperature.powf(-2.5)
        * (0.01275 * (-2239.1 / kelvin).exp() / (oxygen + square / oxygen)
            + 0.1068 * (-3352.0 / kelvin).exp() / (nitrogen + square / nitrogen));
    8.686 * square * (classical + relaxation)
}

/// Energy attenuation in 1/m of an attenuation in dB/m.
#[must_use]
pub fn energy_attenuation(db_per_m: f64) -> f64 {
    db_per_m * std::f64::consts::LN_10 / 10.0
}
