//! What each package may depend on, read from its `Cargo.toml`.

use toml::{Table, Value};

/// Folder of each package, and which of our packages it may use. Tests may use all.
pub(crate) const ALLOWED: [(&str, &[&str]); 7] = [
    ("core/guard", &[]),
    ("core", &["dosewarden-guard"]),
    ("host-sim", &["dosewarden"]),
    (
        "tests",
        &["dosewarden-guard", "dosewarden", "dosewarden-sim"],
    ),
    ("tests/compile-fail", &["dosewarden-guard"]),
    ("tests/laws", &["dosewarden-guard"]),
    ("examples/browser", &["dosewarden", "dosewarden-sim"]),
];

const KINDS: [&str; 3] = ["dependencies", "dev-dependencies", "build-dependencies"];

fn parse(text: &str) -> Result<Table, String> {
    text.parse::<Table>().map_err(|e| e.to_string())
}

/// All dependency tables of one kind: the package's own and those of its targets.
fn tables<'a>(manifest: &'a Table, kind: &'a str) -> impl Iterator<Item = &'a Table> {
    let targets = manifest.get("target").and_then(Value::as_table).into_iter();
    let of_targets = targets.flat_map(|t| t.values()).filter_map(Value::as_table);
    let all = std::iter::once(manifest).chain(of_targets);
    all.filter_map(move |t| t.get(kind).and_then(Value::as_table))
}

/// The package behind a dependency's key, which `package = "..."` can rename.
fn package<'a>(key: &'a str, value: &'a Value) -> &'a str {
    value.get("package").and_then(Value::as_str).unwrap_or(key)
}

/// Dependencies on our own packages other than `allowed`, of any kind.
pub(crate) fn ours(path: &str, text: &str, allowed: &[&str]) -> Vec<String> {
    let manifest = match parse(text) {
        Ok(manifest) => manifest,
        Err(e) => return vec![format!("{path}/Cargo.toml: {e}")],
    };
    let mut findings = Vec::new();
    for kind in KINDS {
        for (key, value) in tables(&manifest, kind).flatten() {
            let name = package(key, value);
            if name.starts_with("dosewarden") && !allowed.contains(&name) {
                findings.push(format!("{path} may not use {name} ({kind})"));
            }
        }
    }
    findings
}

/// Dependencies that a build without features would pull in, and default features that would add some.
pub(crate) fn needed(text: &str) -> Vec<String> {
    let manifest = match parse(text) {
        Ok(manifest) => manifest,
        Err(e) => return vec![e],
    };
    let mut findings = Vec::new();
    for kind in ["dependencies", "build-dependencies"] {
        for (key, value) in tables(&manifest, kind).flatten() {
            if value.get("optional").and_then(Value::as_bool) != Some(true) {
                findings.push(format!("{key} is not optional ({kind})"));
            }
        }
    }
    let features = manifest.get("features").and_then(|f| f.get("default"));
    if features
        .and_then(Value::as_array)
        .is_some_and(|a| !a.is_empty())
    {
        findings.push("default features are not empty".into());
    }
    findings
}

/// Members of the workspace for which [`ALLOWED`] says nothing.
pub(crate) fn unknown_members(workspace: &str, known: &[&str]) -> Vec<String> {
    let manifest = match parse(workspace) {
        Ok(manifest) => manifest,
        Err(e) => return vec![e],
    };
    let members = manifest.get("workspace").and_then(|w| w.get("members"));
    let members = members
        .and_then(Value::as_array)
        .cloned()
        .unwrap_or_default();
    if members.is_empty() {
        return vec!["no workspace members were found".into()];
    }
    let names = members.iter().filter_map(Value::as_str);
    names
        .filter(|m| !known.contains(m))
        .map(|m| format!("{m}: state what it may use"))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wrong_arrow_is_seen_in_every_table() {
        let text = "[dependencies]\ndosewarden.workspace = true\n\
                    [dev-dependencies]\nx = { package = \"dosewarden-sim\", path = \"..\" }\n\
                    [target.'cfg(unix)'.dependencies]\ndosewarden-sim = \"1\"\n";
        assert_eq!(ours("core/guard", text, &[]).len(), 3);
        assert_eq!(
            ours("tests", text, &["dosewarden", "dosewarden-sim"]),
            Vec::<String>::new()
        );
        assert_eq!(ours("core", "[dependencies", &[]).len(), 1);
    }

    #[test]
    fn a_needed_dependency_is_seen() {
        let clean = "[features]\ndefault = []\n[dependencies]\nserde = { version = \"1\", optional = true }\n";
        assert_eq!(needed(clean), Vec::<String>::new());
        assert_eq!(needed("[dependencies]\nserde = \"1\"\n").len(), 1);
        assert_eq!(
            needed("[build-dependencies]\ncc = { workspace = true }\n").len(),
            1
        );
        assert_eq!(needed("[features]\ndefault = [\"serde\"]\n").len(), 1);
        assert_eq!(needed("[target.x.dependencies]\na = \"1\"\n").len(), 1);
    }

    #[test]
    fn a_new_member_is_seen() {
        let text = "[workspace]\nmembers = [\"core\", \"extra\"]\n";
        assert_eq!(
            unknown_members(text, &["core"]),
            ["extra: state what it may use"]
        );
        assert_eq!(unknown_members("[workspace]\n", &["core"]).len(), 1);
    }
}
