//! What calls for a person, and what a person's action does to the truth.

use dosewarden::guard::Lockout;

use super::event::{Act, Ask, Event, Inhibit, Intact};
use super::site::Site;
use super::truth::{Answer, FeederTruth, Passed, Truth, bit};

impl<const N: usize, const B: usize> Truth<N, B> {
    /// What a person did, once the guard has said that it is done.
    pub(super) fn acted(&mut self, site: &Site<N, B>, act: Act, passed: &mut Passed<N>) {
        match act {
            Act::Release(lockout, feeder) if lockout.is_of_site() => {
                self.causes &= !bit(lockout);
                if lockout == Lockout::RecordLost {
                    self.lost = false;
                }
                debug_assert_eq!(feeder, 0, "of the site");
            }
            Act::Release(lockout, feeder) => {
                let index = usize::from(feeder);
                let own = &mut self.feeders[index];
                own.causes &= !bit(lockout);
                if lockout == Lockout::Drive {
                    (own.against, own.deaf, own.ran) = (0, 0, false);
                    passed.deaf[index] = false;
                }
                if lockout == Lockout::Response {
                    own.answer = Answer {
                        quarter: site.figures.feeders[index].acid,
                        ..Answer::NONE
                    };
                }
            }
            Act::Initialise => {
                self.causes &= !bit(Lockout::RecordLost);
                self.lost = false;
                self.hour = [0; 2];
                self.day = [0; 3];
            }
            Act::NewProbe => {
                self.new_probe = true;
                self.powered = 0;
            }
            Act::EnterFallback(_) => self.fallback = site.figures.fallback,
            Act::LeaveFallback => self.fallback = 0,
            Act::Reduce => {}
        }
    }

    /// What calls for a person in this tick.
    pub(super) fn causes(&mut self, site: &Site<N, B>, event: &Event<N>, passed: &Passed<N>) {
        let figures = &site.figures;
        let over = |own: &FeederTruth<B>, feeder: usize| {
            own.standing > 1 + figures.feeders[feeder].drive_off
        };
        let feeders = || self.feeders.iter().enumerate();
        let fouled = feeders().any(|(feeder, own)| over(own, feeder))
            || feeders().filter(|(_, own)| own.standing > 0).count() > 1;
        let mut site_causes = 0;
        for (stands, lockout) in [
            (self.apart > figures.stuck, Lockout::Witnesses),
            (event.inhibit == Inhibit::Stop, Lockout::EmergencyStop),
            (event.intact == Intact::State, Lockout::StateSeal),
            (event.intact == Intact::Limits, Lockout::LimitsSeal),
            (fouled, Lockout::Line),
        ] {
            if stands {
                site_causes |= bit(lockout);
            }
        }
        self.causes |= site_causes;
        let failed = self.failed > figures.failure;
        for (feeder, own) in self.feeders.iter_mut().enumerate() {
            let limits = &figures.feeders[feeder];
            let waived = matches!(event.asks[feeder], Ask::Manual | Ask::Fallback);
            let against = own.against > limits.drive_off;
            own.ran |= against;
            for (stands, lockout) in [
                (failed && limits.governed && !waived, Lockout::Probe),
                (
                    own.cycle > limits.run_max.saturating_add(1 + limits.drive_off),
                    Lockout::RunTime,
                ),
                (against || passed.deaf[feeder], Lockout::Drive),
                (own.answer.wrong, Lockout::Response),
            ] {
                if stands {
                    own.causes |= bit(lockout);
                }
            }
        }
    }
}
