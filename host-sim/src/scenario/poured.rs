//! What is poured into the pool by hand, or let out of it.

use super::bodies;
use super::error::InputError;
use super::person::PersonAct;
use super::quantity::Kind;
use super::table::Table;
use crate::plant::Amounts;
use crate::water::{Reagent, units};

type Read<T> = Result<T, InputError>;

/// What is done to the water of a body.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ToBody {
    /// As [`PersonAct::Pour`].
    Pour {
        /// What.
        what: Poured,
        /// How much: grams of what is solid, millilitres of what is liquid.
        amount: u32,
    },
    /// As [`PersonAct::ExchangeWater`], litres.
    ExchangeWater(u32),
}

/// What a person pours into the pool.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Poured {
    /// Sodium bicarbonate, g.
    Bicarbonate,
    /// Calcium chloride without water, g.
    CalciumChloride,
    /// Cyanuric acid, g.
    CyanuricAcid,
    /// Common salt, g.
    Salt,
    /// Hydrochloric acid of 31.45 %, mL.
    Acid,
    /// Hypochlorite of 125 g/L, mL.
    Hypochlorite,
}

/// 31.45 % hydrochloric acid at 20 C, mol/L (computed from its density).
pub const POURED_ACID_MOL_L: f64 = 9.971;
/// 12.5 trade % hypochlorite, g/L.
pub const POURED_CHLORINE_G_L: f64 = 125.0;

impl Poured {
    /// What so much of it brings. Molar masses as in [`crate::water::units`].
    #[must_use]
    pub fn amounts(self, amount: u32) -> Amounts {
        let amount = f64::from(amount);
        match self {
            Self::Bicarbonate => {
                Amounts::reagent(Reagent::BICARBONATE, amount / units::NAHCO3_MG_PER_MMOL)
            }
            Self::CalciumChloride => {
                Amounts::reagent(Reagent::CALCIUM_CHLORIDE, amount / units::CACL2_MG_PER_MMOL)
            }
            Self::CyanuricAcid => Amounts {
                cyanurate_mol: amount / units::CYANURIC_ACID_MG_PER_MMOL,
                ..Amounts::default()
            },
            Self::Salt => Amounts {
                sodium_mol: amount / units::NACL_MG_PER_MMOL,
                ..Amounts::default()
            },
            Self::Acid => {
                Amounts::reagent(Reagent::HYDROCHLORIC, amount * POURED_ACID_MOL_L / 1000.0)
            }
            Self::Hypochlorite => Amounts::reagent(
                Reagent::HYPOCHLORITE,
                amount * POURED_CHLORINE_G_L / 1000.0 / units::CHLORINE_MG_PER_MMOL,
            ),
        }
    }

    /// The unit of its amounts.
    #[must_use]
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Acid | Self::Hypochlorite => "mL",
            _ => "g",
        }
    }

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Bicarbonate => "sodium bicarbonate",
            Self::CalciumChloride => "calcium chloride",
            Self::CyanuricAcid => "cyanuric acid",
            Self::Salt => "salt",
            Self::Acid => "hydrochloric acid (31.45 %)",
            Self::Hypochlorite => "hypochlorite (125 g/L)",
        }
    }
}

const POURED: [(&str, Poured); 6] = [
    ("bicarbonate", Poured::Bicarbonate),
    ("calcium_chloride", Poured::CalciumChloride),
    ("cyanuric_acid", Poured::CyanuricAcid),
    ("salt", Poured::Salt),
    ("acid", Poured::Acid),
    ("hypochlorite", Poured::Hypochlorite),
];

/// Where there are two bodies, the one that is meant is named.
pub(super) fn to_body(t: &Table<'_, '_>, bodies: &[String], what: ToBody) -> Read<PersonAct> {
    Ok(match (bodies::body_of(t, bodies)?, what) {
        (Some(body), what) => PersonAct::ToBody { body, what },
        (None, ToBody::Pour { what, amount }) => PersonAct::Pour { what, amount },
        (None, ToBody::ExchangeWater(litres)) => PersonAct::ExchangeWater(litres),
    })
}

/// Reads what is poured.
pub(super) fn read(t: &Table<'_, '_>) -> Read<ToBody> {
    let what = t.choice("of", &POURED)?;
    let amount = if what.unit() == "g" {
        t.quantity("amount", Kind::Mass, "1 g", "1000 kg")?
    } else {
        t.quantity("amount", Kind::Volume, "1 mL", "1 m3")? * 1000.0
    };
    Ok(ToBody::Pour {
        what,
        amount: amount.round() as u32,
    })
}
