//! A document with everything that documents can hold, and a text of the test's choice wherever a study's author
//! could put one.

use std::fs;

use payspread::report::document::{
    Block, Cell, Column, Document, Drawing, FigureEntry, Figures, Inline, NoteKind, Picture, Row, Section,
    Table,
};

fn t(text: &str) -> Inline {
    Inline::Text(text.to_owned())
}

/// A chart of the sample, as the program hands it to a document.
fn chart(name: &str) -> String {
    let path = format!("{}/output/sample/{name}.svg", env!("CARGO_MANIFEST_DIR"));
    let svg = fs::read_to_string(path).unwrap();
    let (head, tail) = svg.split_once("<style>").unwrap();
    format!("{head}{}", tail.split_once("</style>").unwrap().1)
}

fn picture(name: &str, said: &str) -> Picture {
    Picture {
        id: name.to_owned(),
        caption: format!("Chart {name}: {said}"),
        alternative: format!("In 6 of 10 runs it pays back. {said}"),
        svg: chart(name),
        number: Some(12_345),
    }
}

/// A picture that names parts of itself, as hatching and clipping do.
fn hatched(said: &str) -> Picture {
    let svg = "<svg width=\"200pt\" height=\"60pt\" viewBox=\"0 0 200 60\" xmlns=\"http://www.w3.org/2000/svg\">\
               <defs><pattern id=\"h\" width=\"4\" height=\"4\" patternUnits=\"userSpaceOnUse\">\
               <path d=\"M0 0 4 4\" stroke=\"#000000\"/></pattern></defs>\
               <rect width=\"200\" height=\"60\" fill=\"url(#h)\"/></svg>";
    Picture {
        id: "hatched".into(),
        caption: said.into(),
        alternative: said.into(),
        svg: svg.into(),
        number: Some(12_345),
    }
}

fn bar(said: &str) -> Drawing {
    let svg = "<svg width=\"60pt\" height=\"10pt\" viewBox=\"0 0 60 10\" xmlns=\"http://www.w3.org/2000/svg\">\
               <rect x=\"1\" y=\"2\" width=\"40\" height=\"6\" fill=\"#0072B2\"/></svg>";
    Drawing { alternative: format!("Bar: {said}"), svg: svg.into() }
}

fn entry(said: &str, k: usize) -> FigureEntry {
    FigureEntry {
        what: format!("Net present value {k} {said}"),
        name: Some("npv".into()),
        formula: Some(format!("npv(savings - costs, discount) # {said}")),
        reads: vec![("discount".into(), format!("Discount rate {said}"), "3.0 %".into())],
        source: Some(said.to_owned()),
        behind: "10,000 runs; 95 % interval of the mean".into(),
        ..FigureEntry::default()
    }
}

fn figure(figures: &mut Figures, said: &str, k: usize, letter: char) -> Inline {
    let row = figures.row(&format!("result r{k}"), || entry(said, k));
    figures.figure(row, letter, "mean", &format!("{k} EUR (95 %: 480 to 520) {said}"), &format!("{k} EUR"))
}

/// A table of so many rows, a part's heading before each tenth.
fn register(figures: &mut Figures, said: &str, rows: usize) -> Table {
    let headings = ["Input", "Value", "From", "To", "Drawn", "Unit", "Source", "Date"];
    let columns = headings.iter().enumerate().map(|(k, heading)| Column {
        heading: format!("{heading} {said}"),
        width: [6, 3, 2, 2, 3, 2, 6, 3][k],
        numbers: (1..4).contains(&k),
    });
    let mut table = Table {
        id: "inputs".into(),
        caption: format!("Register of inputs {said}"),
        columns: columns.collect(),
        rows: Vec::new(),
        notes: vec![vec![t("Counted once. "), Inline::Verbatim(said.to_owned())]],
    };
    for k in 0..rows {
        if k % 10 == 0 {
            let heading = Cell::text(format!("Part {} {said}", k / 10));
            table.rows.push(Row { is_heading: true, number: None, cells: vec![heading] });
        }
        let row = figures.row(&format!("input i{k}"), || entry(said, k));
        let mut of = |letter, text: &str| Cell {
            content: vec![figures.figure(row, letter, "value", text, text)],
            drawing: None,
        };
        let [value, low, high] = [of('a', "1,234.5"), of('b', "1,000.0"), of('c', "1,500.0")];
        let cells = vec![
            Cell::verbatim(format!("Price of electricity {k} {said}")),
            value,
            low,
            high,
            Cell { content: vec![t("normal")], drawing: Some(bar(said)) },
            Cell::text("EUR/kWh"),
            Cell::verbatim(format!("Invented Tables, edition {k}, page 12 {said}")),
            Cell::text("2026-03-01"),
        ];
        table.rows.push(Row { is_heading: false, number: Some(row), cells });
    }
    table
}

fn small(said: &str, figures: &mut Figures) -> Table {
    let column = |heading: &str, numbers| Column { heading: heading.into(), width: 1, numbers };
    let cells = |figure| vec![Cell::default(), Cell { content: vec![figure], drawing: None }];
    let row = Row { is_heading: false, number: None, cells: cells(figure(figures, said, 3, 'a')) };
    let short = Row { is_heading: false, number: None, cells: vec![Cell::code(said)] };
    Table {
        // Named as another is, and as a section is: links must still lead somewhere.
        id: "inputs".into(),
        caption: said.to_owned(),
        columns: vec![column("", false), column("Mean", true)],
        rows: vec![row, short],
        notes: Vec::new(),
    }
}

fn first(said: &str, figures: &mut Figures) -> Section {
    let lead = vec![
        t("In most runs it pays: "),
        figure(figures, said, 1, 'a'),
        t(" on average, "),
        Inline::Strong(vec![figure(figures, said, 1, 'b')]),
        t(" in the middle. "),
        Inline::Verbatim(said.to_owned()),
    ];
    let line = vec![
        Inline::Emphasis(vec![t("Stressed")]),
        t(", "),
        Inline::Code(format!("max(a, b) {said}")),
        Inline::Break,
        Inline::Link { to: "inputs".into(), text: format!("the inputs {said}") },
        t(", "),
        Inline::Link { to: format!("nowhere {said}"), text: "nowhere".into() },
        t(", "),
        Inline::Web { address: "https://example.org/a?b=c&d=%22".into(), text: format!("a page {said}") },
        t(", "),
        Inline::Web { address: format!("javascript:alert(1)//{said}"), text: "no page".into() },
    ];
    let note = |kind, heading: &str| Block::Note {
        kind,
        heading: format!("{heading} {said}"),
        blocks: vec![Block::text(format!("What is set apart. {said}"))],
    };
    let items = vec![
        vec![Block::text(format!("One {said}"))],
        vec![Block::text("Two"), Block::List { numbered: true, items: vec![vec![Block::text(said)]] }],
    ];
    Section {
        id: "answer".into(),
        heading: format!("The answer {said}"),
        new_page: true,
        blocks: vec![
            Block::Lead(lead),
            Block::Paragraph(line),
            Block::Picture(picture("result", said)),
            note(NoteKind::Caution, "Work on the mains"),
            note(NoteKind::Missing, "No source"),
            note(NoteKind::Remark, "Remark"),
            Block::List { numbered: false, items },
        ],
        sections: Vec::new(),
    }
}

/// The document.
pub(crate) fn document(said: &str, rows: usize) -> Document {
    let mut figures = Figures::default();
    let section = |id: &str, new_page, blocks, sections| Section {
        id: id.into(),
        heading: format!("Section {id} {said}"),
        new_page,
        blocks,
        sections,
    };
    let deepest = section("deepest", false, vec![Block::Table(small(said, &mut figures))], Vec::new());
    let deep = section("deep", false, vec![Block::Picture(hatched(said))], vec![deepest]);
    let pictures = vec![picture("payback", said), picture("claim", said), hatched(said)];
    let sections = vec![
        first(said, &mut figures),
        section("inputs", true, Vec::new(), vec![section("all", true, Vec::new(), vec![deep])]),
        section("register", true, vec![Block::Table(register(&mut figures, said, rows))], Vec::new()),
        section(
            "charts",
            false,
            vec![Block::Pictures(pictures), Block::Picture(picture("tornado", said))],
            Vec::new(),
        ),
        // A second of the same name.
        section("charts", true, vec![Block::text("The end.")], Vec::new()),
    ];
    let facts = [("Client", "Invented Housing Ltd"), ("Revision", "B"), ("Date", "1 March 2026")];
    let mut facts: Vec<(String, String)> =
        facts.iter().map(|(what, fact)| ((*what).into(), format!("{fact} {said}"))).collect();
    facts.push((format!("Said {said}"), said.into()));
    Document {
        title: format!("Surplus to the cylinder {said}"),
        question: Some(format!("Does it pay back? {said}")),
        facts,
        sections,
        figures: figures.into_entries(),
    }
}
