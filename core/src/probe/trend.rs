//! How a probe ages from calibration to calibration, and when it will be due.

#[cfg(feature = "store")]
use super::calibrate::SLOPE_MAX_PPM;
use super::calibrate::{Calibration, OFFSET_MAX, SLOPE_MIN_PPM};
use super::numbers::{narrow, round_div};

/// How many calibrations are kept.
pub const TREND_KEPT: usize = 4;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
struct Point {
    /// Hours after the first that is kept.
    at_h: i32,
    slope_ppm: i32,
    zero_uv: i32,
}

/// The last calibrations of one probe. A new probe starts a new trend.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Trend {
    points: [Option<Point>; TREND_KEPT],
}

/// What makes a probe due first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum DueBy {
    /// The calibration's age.
    Age,
    /// The slope reaches its lower bound: the probe is at its end.
    Slope,
    /// The offset reaches its bound: the reference is poisoned or dry.
    Offset,
}

/// When a probe is due, and by what.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Forecast {
    /// By what.
    pub by: DueBy,
    /// In how many whole days; 0 is now or overdue.
    pub days: u16,
}

impl Trend {
    /// No calibration yet.
    pub const NEW: Self = Self {
        points: [None; TREND_KEPT],
    };

    /// A calibration was made. `hours` since the one before; anything for the first.
    pub fn push(&mut self, calibration: &Calibration, hours: u16) {
        if self.points.iter().all(Option::is_some) {
            self.points.rotate_left(1);
            if let Some(last) = self.points.last_mut() {
                *last = None;
            }
        }
        let last = self.points.iter().flatten().last();
        let at_h = last.map_or(0, |last| last.at_h.saturating_add(i32::from(hours)));
        let point = Point {
            at_h,
            slope_ppm: i32::try_from(calibration.slope_ppm()).unwrap_or(i32::MAX),
            zero_uv: calibration.zero().0,
        };
        if let Some(free) = self.points.iter_mut().find(|point| point.is_none()) {
            *free = Some(point);
        }
    }

    /// Whether calibrations that were accepted, one after the other, can have made it.
    #[cfg(feature = "store")]
    pub(crate) fn is_sound(&self) -> bool {
        let mut rest = self.points.iter().skip_while(|point| point.is_some());
        let mut known = self.points.iter().flatten();
        let sound = |point: &Point| {
            let slope = u32::try_from(point.slope_ppm).unwrap_or(0);
            (SLOPE_MIN_PPM..=SLOPE_MAX_PPM).contains(&slope)
                && point.zero_uv.unsigned_abs() <= OFFSET_MAX.0.unsigned_abs()
                && point.at_h >= 0
        };
        rest.all(Option::is_none)
            && known.all(sound)
            && self
                .points
                .iter()
                .flatten()
                .is_sorted_by_key(|point| point.at_h)
    }

    /// When the probe is due: by the age of its calibration, or when the straight line through the
    /// last calibrations reaches a bound, whichever is first. With fewer than two calibrations
    /// age alone counts. A forecast, not a check: a probe can fail any day.
    #[must_use]
    pub fn forecast(&self, calibration: &Calibration, age_days_max: u16) -> Forecast {
        let age_days = calibration.age.days_ceil();
        let mut first = Forecast {
            by: DueBy::Age,
            days: age_days_max.saturating_sub(age_days),
        };
        let low = i32::try_from(SLOPE_MIN_PPM).unwrap_or(0);
        let slope = self.days_to(|p| p.slope_ppm, Some(low), None);
        let bounds = (OFFSET_MAX.0.saturating_neg(), OFFSET_MAX.0);
        let offset = self.days_to(|p| p.zero_uv, Some(bounds.0), Some(bounds.1));
        for (by, days) in [(DueBy::Slope, slope), (DueBy::Offset, offset)] {
            // Counted from the last calibration.
            let days = days.map(|days| days.saturating_sub(age_days));
            if let Some(days) = days.filter(|days| *days < first.days) {
                first = Forecast { by, days };
            }
        }
        first
    }

    /// Days from the last calibration to the bound that the line of least squares runs to.
    fn days_to(&self, of: fn(&Point) -> i32, low: Option<i32>, high: Option<i32>) -> Option<u16> {
        let last = self.points.iter().flatten().last()?;
        let (mut count, mut x, mut y, mut xx, mut xy) = (0_i64, 0_i64, 0_i64, 0_i64, 0_i64);
        for point in self.points.iter().flatten() {
            let (at, value) = (i64::from(point.at_h), i64::from(of(point)));
            count = count.saturating_add(1);
            x = x.saturating_add(at);
            y = y.saturating_add(value);
            xx = xx.saturating_add(at.saturating_mul(at));
            xy = xy.saturating_add(at.saturating_mul(value));
        }
        let rise = count.saturating_mul(xy).saturating_sub(x.saturating_mul(y));
        let run = count.saturating_mul(xx).saturating_sub(x.saturating_mul(x));
        let bound = if rise < 0 { low } else { high }?;
        // Per 1000 days: hours x 24,000.
        let per_1000_days = narrow(round_div(rise.saturating_mul(24_000), run));
        let left = i64::from(bound).saturating_sub(i64::from(of(last)));
        if per_1000_days == 0 {
            return None;
        }
        let days = left
            .saturating_mul(1000)
            .checked_div(i64::from(per_1000_days))?;
        Some(u16::try_from(days.max(0)).unwrap_or(u16::MAX))
    }
}

#[cfg(all(test, feature = "store"))]
mod tests {
    use super::*;

    #[test]
    fn only_what_calibrations_that_were_accepted_can_have_made_is_sound() {
        let least = i32::try_from(SLOPE_MIN_PPM).unwrap();
        let greatest = i32::try_from(SLOPE_MAX_PPM).unwrap();
        let point = |at_h, slope_ppm, zero_uv| {
            Some(Point {
                at_h,
                slope_ppm,
                zero_uv,
            })
        };
        let sound = |points: &[Option<Point>]| {
            let mut trend = Trend::NEW;
            trend.points[..points.len()].copy_from_slice(points);
            trend.is_sound()
        };
        let (first, second) = (
            point(0, least, OFFSET_MAX.0),
            point(9, greatest, -OFFSET_MAX.0),
        );
        assert!(sound(&[]) && sound(&[first]) && sound(&[first, second]));
        assert!(sound(&[first, first]), "two in one hour");
        assert!(!sound(&[None, first]), "a gap");
        assert!(!sound(&[second, first]), "backwards");
        for bad in [
            point(-1, least, 0),
            point(0, least - 1, 0),
            point(0, greatest + 1, 0),
            point(0, -1, 0),
            point(0, least, OFFSET_MAX.0 + 1),
            point(0, least, -OFFSET_MAX.0 - 1),
        ] {
            assert!(!sound(&[bad]) && !sound(&[bad, second]), "{bad:?}");
        }
    }
}
