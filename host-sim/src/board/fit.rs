//! Whether the settings of an image are those that a site's plan gives.

use std::path::Path;

use dosewarden::store::SettingsImage;
use serde::Serialize;
use serde_json::{Value, json};

use super::BoardSheet;
use crate::plan::{Plan, Site};
use crate::scenario::{InputError, Scenario};
use crate::unit::DosewardenUnit;

/// One setting that differs.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Apart {
    /// Where it stands: `limits.feeders[0].rate`.
    pub setting: String,
    /// What the image has; null: nothing.
    pub image: Value,
    /// What the site's plan gives; null: nothing.
    pub site: Value,
}

/// Image and site side by side.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Fit {
    /// Name of the site.
    pub site: String,
    /// What differs; nothing: the settings fit.
    pub apart: Vec<Apart>,
}

/// All that a plan decides, field by field. Regulators are not in it: a board may have others.
pub(crate) fn settings_of<const N: usize, const B: usize>(image: &SettingsImage<N, B>) -> Value {
    json!({
        "limits": image.limits.spec(),
        "settings": image.settings.spec(),
        "care": image.care,
        "proof": image.proof,
        "tests": image.tests,
    })
}

fn compare(at: &str, image: &Value, site: &Value, apart: &mut Vec<Apart>) {
    match (image, site) {
        (Value::Object(one), Value::Object(other)) => {
            let more = other.keys().filter(|key| !one.contains_key(*key));
            for key in one.keys().chain(more) {
                let [a, b] = [one, other].map(|of| of.get(key).unwrap_or(&Value::Null));
                compare(&format!("{at}.{key}"), a, b, apart);
            }
        }
        (Value::Array(one), Value::Array(other)) => {
            for index in 0..one.len().max(other.len()) {
                let [a, b] = [one, other].map(|of| of.get(index).unwrap_or(&Value::Null));
                compare(&format!("{at}[{index}]"), a, b, apart);
            }
        }
        _ if image == site => {}
        _ => apart.push(Apart {
            setting: at.trim_start_matches('.').to_owned(),
            image: image.clone(),
            site: site.clone(),
        }),
    }
}

impl BoardSheet {
    /// Puts the settings beside those of a site, as `plan` works them out.
    ///
    /// # Errors
    /// The first mistake in the site.
    pub fn compare(&mut self, path: &Path) -> Result<(), InputError> {
        let site = Site::load(path)?;
        let file = path.display().to_string();
        let plan =
            Plan::of(&site).map_err(|error| InputError::of_file(&file, error.to_string()))?;
        let scenario = Scenario::parse(&file, &plan.scenario)?;
        let planned = DosewardenUnit::for_scenario(&scenario).settings_value();
        let mut apart = Vec::new();
        compare("", &self.settings, &planned, &mut apart);
        let site = site.name;
        self.fit = Some(Fit { site, apart });
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_differs_is_named_by_its_place_and_what_is_alike_is_not() {
        let one = json!({"a": [1, {"b": 2}], "c": 3, "only": 4});
        let other = json!({"a": [1, {"b": 5}, 6], "c": 3});
        let mut apart = Vec::new();
        compare("", &one, &other, &mut apart);
        let named: Vec<_> = apart
            .iter()
            .map(|it| (it.setting.as_str(), &it.image, &it.site))
            .collect();
        let (four, six) = (json!(4), json!(6));
        assert_eq!(
            named,
            [
                ("a[1].b", &json!(2), &json!(5)),
                ("a[2]", &Value::Null, &six),
                ("only", &four, &Value::Null),
            ]
        );
        apart.clear();
        compare("", &one, &one, &mut apart);
        assert_eq!(apart, []);
    }
}
