//! Tables that a phone shows as well: each cell learns the name of its column, and where the screen is narrow a row is a block of
//! such cells instead of a line that has to be pushed sideways. On paper, where nothing can be pushed, it is made to fit.
//!
//! Invariant: nothing of a table is left out or moved, and it stays a table to those who listen to it: roles say what a cell
//! is where the style has made it a block.

use minijinja::value::Value;
use minijinja::{Environment, Error};

const STYLE: &str = include_str!("../../templates/stack.css");
const ON_PAPER: &str = include_str!("../../templates/paper.css");

/// Tables of fewer columns fit a phone as they are.
const COLUMNS_MIN: usize = 3;

/// Gives an engine the filter `stacked` with the style that goes with it, `stack.css`, and that of all pages on paper, `paper.css`.
///
/// # Errors
/// What the template engine has to say.
pub(crate) fn taught(engine: &mut Environment<'_>) -> Result<(), Error> {
    engine.add_template("stack.css", STYLE)?;
    engine.add_template("paper.css", ON_PAPER)?;
    engine.add_filter("stacked", |html: &str| {
        Value::from_safe_string(stacked(html))
    });
    Ok(())
}

/// Every table of a page that has a head and three columns or more, told for narrow screens.
fn stacked(html: &str) -> String {
    let mut out = String::with_capacity(html.len() + html.len() / 8);
    let mut rest = html;
    while let Some(at) = rest.find("<table") {
        let end = rest[at..]
            .find("</table>")
            .map_or(rest.len(), |end| at + end);
        let (before, table) = (&rest[..at], &rest[at..end]);
        out.push_str(before);
        match head(table) {
            Some((columns, body)) if columns.len() >= COLUMNS_MIN => {
                out.push_str(&labelled(table, body, &columns));
            }
            _ => out.push_str(table),
        }
        rest = &rest[end..];
    }
    out.push_str(rest);
    out
}

/// Names of the columns, and where the rows below the head begin.
fn head(table: &str) -> Option<(Vec<String>, usize)> {
    let begin = table.find("<thead>")?;
    let end = begin + table[begin..].find("</thead>")?;
    let cells = table[begin..end].split("<th ").skip(1);
    let name = |cell: &str| {
        let inside = cell.split_once('>').map_or("", |(_, inside)| inside);
        let inside = inside.split("</th>").next().unwrap_or_default();
        without_tags(inside)
    };
    Some((cells.map(name).collect(), end))
}

/// The words between tags. They are escaped already, as an attribute needs them.
fn without_tags(text: &str) -> String {
    let mut words = String::new();
    let mut is_tag = false;
    for c in text.chars() {
        match c {
            '<' => is_tag = true,
            '>' => is_tag = false,
            c if !is_tag => words.push(c),
            _ => {}
        }
    }
    words.trim().replace('"', "&quot;")
}

/// A table with what a narrow screen needs; its rows begin at `body`.
fn labelled(table: &str, body: usize, columns: &[String]) -> String {
    let (above, below) = table.split_at(body);
    let above = above
        .replacen("<table", "<table role=\"table\"", 1)
        .replace("<tr>", "<tr role=\"row\">")
        .replace("<th ", "<th role=\"columnheader\" ");
    let mut out = above;
    let mut column = 0;
    let mut rest = below;
    while let Some(at) = rest.find('<') {
        out.push_str(&rest[..at]);
        rest = &rest[at..];
        let tag = rest[1..]
            .split(|c: char| !c.is_ascii_alphabetic())
            .next()
            .unwrap_or_default();
        let opened = &rest[..=tag.len()];
        out.push_str(opened);
        rest = &rest[opened.len()..];
        match tag {
            "tr" => {
                column = 0;
                out.push_str(" role=\"row\"");
            }
            "td" | "th" => {
                let role = if tag == "td" { "cell" } else { "rowheader" };
                let name = columns.get(column).map_or("", String::as_str);
                out.push_str(&format!(" role=\"{role}\" data-label=\"{name}\""));
                column += 1;
            }
            _ => {}
        }
    }
    out.push_str(rest);
    // The class beside one that the table may have.
    match out.find("<table role=\"table\" class=\"") {
        Some(_) => out.replacen("class=\"", "class=\"stack ", 1),
        None => out.replacen("<table ", "<table class=\"stack\" ", 1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WIDE: &str = "<p>a</p><div><table>\n<caption>b</caption><thead><tr><th scope=\"col\">part</th><th scope=\"col\" class=\"n\">in <code>ms</code></th>\
        <th scope=\"col\">c &lt; d</th><th scope=\"col\">e</th></tr></thead><tbody><tr class=broken><th scope=\"row\">x1</th><td class=\"n\">1</td>\
        <td><a href=\"#a\">2</a></td><td></td></tr>\n<tr><th scope=\"row\">x2</th><td>3</td><td>4</td><td>5</td></tr></tbody></table></div><p>f</p>";

    #[test]
    fn each_cell_has_the_name_of_its_column() {
        let told = stacked(WIDE);
        for part in [
            "<table class=\"stack\" role=\"table\">\n<caption>b</caption><thead><tr role=\"row\"><th role=\"columnheader\" scope=\"col\">part</th>",
            "<tr role=\"row\" class=broken><th role=\"rowheader\" data-label=\"part\" scope=\"row\">x1</th>",
            "<td role=\"cell\" data-label=\"in ms\" class=\"n\">1</td>",
            "<td role=\"cell\" data-label=\"c &lt; d\"><a href=\"#a\">2</a></td><td role=\"cell\" data-label=\"e\"></td></tr>",
            "<tr role=\"row\"><th role=\"rowheader\" data-label=\"part\" scope=\"row\">x2</th><td role=\"cell\" data-label=\"in ms\">3</td>",
            "</tbody></table></div><p>f</p>",
        ] {
            assert!(told.contains(part), "{part}\n{told}");
        }
    }

    /// What was added is roles, labels and a class, and nothing else.
    #[test]
    fn nothing_is_lost_or_moved() {
        let mut told = stacked(WIDE).replace(" class=\"stack\"", "");
        for role in ["table", "row", "cell", "columnheader", "rowheader"] {
            told = told.replace(&format!(" role=\"{role}\""), "");
        }
        for label in ["part", "in ms", "c &lt; d", "e"] {
            told = told.replace(&format!(" data-label=\"{label}\""), "");
        }
        assert_eq!(told, WIDE);
    }

    #[test]
    fn a_table_of_few_columns_or_without_a_head_stays() {
        let few = WIDE
            .replace("<th scope=\"col\">e</th>", "")
            .replace("<th scope=\"col\">c &lt; d</th>", "");
        assert_eq!(stacked(&few), few);
        let headless = WIDE.replace("thead", "tbody");
        assert_eq!(stacked(&headless), headless);
        assert_eq!(stacked("<p>no table</p>"), "<p>no table</p>");
        let classed = WIDE.replace("<table>", "<table class=\"figures\">");
        let told = stacked(&classed);
        assert!(
            told.contains("<table role=\"table\" class=\"stack figures\">"),
            "{told}"
        );
    }
}
