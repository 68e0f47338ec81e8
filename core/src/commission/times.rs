//! Times that follow from pipes, probes and mixing.

use crate::guard::units::{FlowMlPerS, Millis};

/// Flowing time that clears the line: three of its volumes at the slowest flow at which feed is
/// allowed, rounded up. `None` for a flow or a line of nothing.
#[must_use]
pub fn purge(line_ml: u32, slowest: FlowMlPerS) -> Option<Millis> {
    let three = u64::from(line_ml).saturating_mul(3000);
    if line_ml == 0 || slowest.0 == 0 {
        return None;
    }
    let ms = three.div_ceil(u64::from(slowest.0));
    u32::try_from(ms).ok().map(Millis)
}

/// Flowing time after which a probe has seen what a dose did: the water's way from the injectors to
/// the probe by way of the basin's fast part, three of the probe's time constants, and three of the
/// slow part's exchange. It does not come from the turnover: a basin mixes faster than it is
/// filtered. Saturates.
#[must_use]
pub const fn spread_hold(transit: Millis, probe_lag: Millis, exchange: Millis) -> Millis {
    let lags = probe_lag.0.saturating_mul(3);
    let mixing = exchange.0.saturating_mul(3);
    Millis(transit.0.saturating_add(lags).saturating_add(mixing))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_line_volumes_at_the_slowest_flow() {
        assert_eq!(purge(30_000, FlowMlPerS(1_500)), Some(Millis(60_000)));
        assert_eq!(purge(10, FlowMlPerS(7)), Some(Millis(4_286)));
        assert_eq!(purge(0, FlowMlPerS(7)), None);
        assert_eq!(purge(10, FlowMlPerS(0)), None);
        assert_eq!(purge(u32::MAX, FlowMlPerS(1)), None);
    }

    #[test]
    fn transit_three_lags_and_three_exchanges() {
        let hold = spread_hold(
            Millis::from_secs(20),
            Millis::from_secs(30),
            Millis::from_mins(8),
        );
        assert_eq!(hold, Millis(20_000 + 90_000 + 1_440_000));
        assert_eq!(
            spread_hold(Millis(u32::MAX), Millis(1), Millis(1)),
            Millis(u32::MAX)
        );
    }
}
