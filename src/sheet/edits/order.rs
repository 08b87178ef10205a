//! Where rows stand in the file: taken out, put in, moved, each with the remark that stands directly above it.

use toml_edit::{DocumentMut, Item, Table};

use super::{Reason, parts};

/// Gives each table of the document a place of its own, in the order in which they are written, with room between for
/// one more.
fn spread(document: &mut DocumentMut) {
    let mut places: Vec<isize> = Vec::new();
    visit(document.as_table_mut(), &mut |table| places.extend(table.position()));
    places.sort_unstable();
    places.dedup();
    visit(document.as_table_mut(), &mut |table| {
        let rank = table.position().and_then(|place| places.binary_search(&place).ok());
        table.set_position(rank.map(|rank| 2 * rank as isize));
    });
}

/// Each table below this one that has a place, arrays of tables included.
fn visit(table: &mut Table, see: &mut impl FnMut(&mut Table)) {
    for (_, item) in table.iter_mut() {
        match item {
            Item::Table(table) => {
                if !table.is_dotted() {
                    see(table);
                }
                visit(table, see);
            }
            Item::ArrayOfTables(tables) => {
                for table in tables.iter_mut() {
                    see(table);
                    visit(table, see);
                }
            }
            _ => {}
        }
    }
}

/// Removes a row and gives it back. What stands above its own remark, set apart by an empty line, stays: it is put above
/// what comes next.
pub(super) fn take_out(document: &mut DocumentMut, row: &str) -> Result<Table, Reason> {
    spread(document);
    let (section, name) = parts(row)?;
    let gone = document.get_mut(section).and_then(Item::as_table_mut).and_then(|table| table.remove(name));
    let Some(Item::Table(mut gone)) = gone else {
        return Err(Reason::new(format!("the study has no [{row}]"), "it may have gone or been renamed"));
    };
    if gone.is_dotted() || gone.position().is_none() {
        return Err(Reason::new(
            format!("{row} has no heading of its own in the file"),
            "change it in a text editor",
        ));
    }
    let apart = set_apart(&mut gone);
    if !apart.trim().is_empty() {
        let place = last_place(&mut gone);
        leave_above(document, place, &apart);
    }
    Ok(gone)
}

/// Takes from a row what stands above its own remark.
fn set_apart(row: &mut Table) -> String {
    let prefix = prefix_of(row);
    let (apart, own) = split(&prefix);
    row.decor_mut().set_prefix(own.to_owned());
    apart.to_owned()
}

/// What stands above a row.
fn prefix_of(row: &Table) -> String {
    row.decor().prefix().and_then(|raw| raw.as_str()).unwrap_or_default().to_owned()
}

/// What is set apart by an empty line, and the remark of the row itself.
fn split(prefix: &str) -> (&str, &str) {
    // The empty line goes with the row, so that it stands apart where it comes to stand.
    prefix.rfind("\n\n").map_or(("", prefix), |at| prefix.split_at(at + 1))
}

/// Place of a table or of the last below it.
fn last_place(table: &mut Table) -> isize {
    let mut last = table.position().unwrap_or_default();
    visit(table, &mut |inner| last = last.max(inner.position().unwrap_or_default()));
    last
}

/// Puts a remark above the table that comes after this place, or at the end of the document.
fn leave_above(document: &mut DocumentMut, place: isize, remark: &str) {
    let mut next: Option<isize> = None;
    visit(document.as_table_mut(), &mut |table| {
        if let Some(there) = table.position().filter(|there| *there > place) {
            next = Some(next.map_or(there, |next| next.min(there)));
        }
    });
    let Some(next) = next else {
        let trailing = document.trailing().as_str().unwrap_or_default().to_owned();
        document.set_trailing(format!("{remark}{trailing}"));
        return;
    };
    visit(document.as_table_mut(), &mut |table| {
        if table.position() == Some(next) {
            let own = prefix_of(table);
            table.decor_mut().set_prefix(format!("{remark}{own}"));
        }
    });
}

/// Puts a row into a section, below `after` or as its last.
pub(super) fn put_in(
    document: &mut DocumentMut,
    section: &str,
    name: &str,
    mut row: Table,
    after: Option<&str>,
) -> Result<(), Reason> {
    spread(document);
    let place = match after {
        Some(after) => {
            let (section, name) = parts(after)?;
            let table = document.get_mut(section).and_then(Item::as_table_mut);
            let table = table.and_then(|table| table.get_mut(name)).and_then(Item::as_table_mut);
            table.map(last_place).ok_or_else(|| {
                Reason::new(format!("the study has no [{after}]"), "name a row that is there")
            })?
        }
        None => end_of(document, section),
    };
    row.set_position(Some(place + 1));
    insert(document, section, name, row)
}

/// The last place of a section; of one that is not there, that of the document.
fn end_of(document: &mut DocumentMut, section: &str) -> isize {
    match document.get_mut(section).and_then(Item::as_table_mut) {
        Some(table) => last_place(table),
        None => last_place(document.as_table_mut()),
    }
}

fn insert(document: &mut DocumentMut, section: &str, name: &str, row: Table) -> Result<(), Reason> {
    let implicit = || {
        let mut table = Table::new();
        table.set_implicit(true);
        Item::Table(table)
    };
    let table = document.entry(section).or_insert_with(implicit).as_table_mut();
    let table = table.ok_or_else(|| {
        Reason::new(format!("[{section}] is written in one line"), "change it in a text editor")
    })?;
    table.insert(name, Item::Table(row));
    Ok(())
}

/// Moves a row above another of its section, or to the end of that.
pub(super) fn relocate(document: &mut DocumentMut, row: &str, before: Option<&str>) -> Result<(), Reason> {
    let (section, name) = parts(row)?;
    if before == Some(row) {
        return Ok(());
    }
    if let Some(before) = before {
        let (other, _) = parts(before)?;
        if other != section {
            return Err(Reason::new("a row stays in its section", "move it among the rows of the same kind"));
        }
        super::row_of(document, before)?;
    }
    let mut moved = take_out(document, row)?;
    let subtables = {
        let mut n = 0;
        visit(&mut moved, &mut |_| n += 1);
        n
    };
    if subtables > 0 {
        return Err(Reason::new("this row has parts of its own below it", "move it in a text editor"));
    }
    let place = match before {
        Some(before) => {
            let before = super::row_of(document, before)?;
            // A heading remark stays above both.
            let own = prefix_of(&moved);
            moved.decor_mut().set_prefix(set_apart(before) + &own);
            before.position().unwrap_or_default() - 1
        }
        None => end_of(document, section) + 1,
    };
    if before.is_none() && !prefix_of(&moved).starts_with('\n') {
        let own = prefix_of(&moved);
        moved.decor_mut().set_prefix(format!("\n{own}"));
    }
    moved.set_position(Some(place));
    insert(document, section, name, moved)
}
