//! Checks that every library may be used as it is used: its licence is on the
//! list in `deny.toml`, and it comes from the package registry.
//!
//! The same list is what `cargo deny check licenses sources` reads, for those
//! who have it.

use std::collections::HashSet;

use anyhow::{Context, Result, bail};
use cargo_metadata::{MetadataCommand, Package};

/// Checks all libraries of the workspace, for all platforms.
///
/// # Errors
/// Names each library that is not allowed.
pub fn check() -> Result<()> {
    let config: toml::Table = std::fs::read_to_string("deny.toml")
        .context("deny.toml")?
        .parse()?;
    let allowed: HashSet<&str> = config
        .get("licenses")
        .and_then(|table| table.get("allow"))
        .and_then(toml::Value::as_array)
        .context("deny.toml has no list licenses.allow")?
        .iter()
        .filter_map(toml::Value::as_str)
        .collect();
    let metadata = MetadataCommand::new().exec()?;
    let mut wrong = Vec::new();
    let mut used = HashSet::new();
    for package in &metadata.packages {
        if let Some(problem) = problem(package, &allowed, &mut used) {
            wrong.push(format!("{} {}: {problem}", package.name, package.version));
        }
    }
    let mut idle: Vec<_> = allowed.difference(&used).collect();
    idle.sort();
    if !idle.is_empty() {
        wrong.push(format!("allowed in deny.toml, but not needed: {idle:?}"));
    }
    if !wrong.is_empty() {
        bail!("{}", wrong.join("\n"));
    }
    println!(
        "{} packages, all allowed by deny.toml",
        metadata.packages.len()
    );
    Ok(())
}

fn problem<'a>(
    package: &Package,
    allowed: &HashSet<&'a str>,
    used: &mut HashSet<&'a str>,
) -> Option<String> {
    if let Some(source) = &package.source
        && !source.is_crates_io()
    {
        return Some(format!("comes from {source}"));
    }
    let Some(licence) = &package.license else {
        return Some("states no licence".to_owned());
    };
    match satisfied(licence, &mut |name| {
        let known = allowed.get(name);
        used.extend(known);
        known.is_some()
    }) {
        Ok(true) => None,
        Ok(false) => Some(format!("licence {licence} is not allowed")),
        Err(error) => Some(format!("licence '{licence}': {error}")),
    }
}

/// Whether a licence expression (SPDX 2.3, annex D) is met by what `allowed`
/// says yes to. An old `A/B` means `A OR B`.
fn satisfied(expression: &str, allowed: &mut impl FnMut(&str) -> bool) -> Result<bool> {
    let spaced = expression
        .replace('(', " ( ")
        .replace(')', " ) ")
        .replace('/', " OR ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let mut rest = &words[..];
    let met = any_of(&mut rest, allowed)?;
    if rest.is_empty() {
        Ok(met)
    } else {
        bail!("cannot be read from '{}' on", rest.join(" "))
    }
}

fn any_of(rest: &mut &[&str], allowed: &mut impl FnMut(&str) -> bool) -> Result<bool> {
    let mut met = all_of(rest, allowed)?;
    while let ["OR", after @ ..] = *rest {
        *rest = after;
        // Both sides are looked at, so that the list knows what it is for.
        met |= all_of(rest, allowed)?;
    }
    Ok(met)
}

fn all_of(rest: &mut &[&str], allowed: &mut impl FnMut(&str) -> bool) -> Result<bool> {
    let mut met = one(rest, allowed)?;
    while let ["AND", after @ ..] = *rest {
        *rest = after;
        met &= one(rest, allowed)?;
    }
    Ok(met)
}

fn one(rest: &mut &[&str], allowed: &mut impl FnMut(&str) -> bool) -> Result<bool> {
    match *rest {
        ["(", after @ ..] => {
            *rest = after;
            let met = any_of(rest, allowed)?;
            let [")", after @ ..] = *rest else {
                bail!("a bracket is not closed")
            };
            *rest = after;
            Ok(met)
        }
        [name, "WITH", exception, after @ ..] => {
            *rest = after;
            // An exception only ever permits more.
            Ok(allowed(name) || allowed(&format!("{name} WITH {exception}")))
        }
        [name, after @ ..] => {
            *rest = after;
            Ok(allowed(name))
        }
        [] => bail!("it ends too early"),
    }
}

#[cfg(test)]
mod tests {
    use super::satisfied;

    fn met(expression: &str) -> bool {
        let mut allowed = |name: &str| ["MIT", "ISC", "Zlib"].contains(&name);
        satisfied(expression, &mut allowed).unwrap()
    }

    #[test]
    fn licence_expressions_are_read_as_spdx_says() {
        assert!(met("MIT"));
        assert!(!met("GPL-3.0-only"));
        assert!(met("MIT OR GPL-3.0-only"));
        assert!(met("Apache-2.0/MIT"));
        assert!(!met("MIT AND GPL-3.0-only"));
        // AND binds more closely than OR.
        assert!(met("ISC OR MIT AND GPL-3.0-only"));
        assert!(!met("(ISC OR MIT) AND GPL-3.0-only"));
        assert!(met("(GPL-3.0-only OR Zlib) AND (MIT)"));
        assert!(met("ISC WITH Some-exception"));
    }

    #[test]
    fn what_is_no_expression_is_an_error() {
        let mut all = |_: &str| true;
        for wrong in ["", "(MIT", "MIT)", "MIT OR", "AND MIT MIT"] {
            assert!(satisfied(wrong, &mut all).is_err(), "{wrong}");
        }
    }
}
