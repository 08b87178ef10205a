//! `debug`: a look inside, for maintainers; its text may change at any time.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::{Args, Subcommand};

use super::delivered;
use super::failure::Failure;
use super::opened::Opened;
use super::options::StudyFile;
use super::progress;
use super::run::unanswered;
use super::terminal::Terminal;
use super::timings::Timings;
use crate::analysis::{Options, appraise};
use crate::engine::program::{Instruction, Program, Slot, Wanted};
use crate::engine::run::LeafSource;
use crate::model::Model;
use crate::model::lower::{Lowering, Setting};
use crate::report::delivery::Kind;
use crate::sampling::{Column, Design, Plan};

/// Look inside
#[derive(Debug, Args)]
pub(super) struct Debug {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// The compiled program of a study's results: columns, instructions, block size
    Program(StudyFile),
    /// The workbook of a study, from fewer runs than it asks for
    Workbook {
        #[command(flatten)]
        study: StudyFile,
        /// File to write
        out: PathBuf,
        /// Runs
        #[arg(long, default_value_t = 1024)]
        runs: u64,
    },
}

impl Debug {
    pub(super) fn execute(&self, terminal: &Terminal) -> Result<(), Failure> {
        match &self.what {
            What::Program(file) => {
                let opened = Opened::read_and_tell(&file.study, terminal, &mut Timings::start())?;
                terminal.say(&listing(&opened.model)?)
            }
            What::Workbook { study, out, runs } => workbook(study, out, *runs, terminal),
        }
    }
}

fn workbook(study: &StudyFile, out: &Path, runs: u64, terminal: &Terminal) -> Result<(), Failure> {
    let opened = Opened::read_and_tell(&study.study, terminal, &mut Timings::start())?;
    let wish = &opened.model.sampling;
    let design = Design::new(wish.seed, wish.method, wish.replicates, runs);
    let options = Options { design, until: None, ..Options::of(&opened.model) };
    let control = progress::interruptible();
    let answers = appraise(&opened.model, options, &control).map_err(|error| unanswered(error, &opened))?;
    let name = study.stem().unwrap_or_default();
    let files = delivered::made(&[Kind::Workbook], &format!("{name}.toml"), &opened, &answers, &control)?;
    let bytes = files.into_iter().find(|(name, _)| name.ends_with(".xlsx")).map(|(_, bytes)| bytes);
    std::fs::write(out, bytes.unwrap_or_default())
        .map_err(|error| Failure::Machine(format!("cannot write {}: {error}", out.display())))
}

fn listing(model: &Model) -> Result<String, Failure> {
    let plan = model.plan(model.design()).map_err(|e| Failure::Study(format!("error: {}\n", e.message)))?;
    let plan = Arc::new(plan);
    let mut low = Lowering::new(model, Arc::clone(&plan), &BTreeSet::new());
    let sheet =
        low.lay(&Setting::default()).map_err(|d| Failure::Study(format!("error: {}\n", d.message)))?;
    let results = model.results.iter().map(|result| &model.result_working(result).about.name);
    let named: Vec<_> =
        results.flat_map(|name| sheet.nodes(name).into_iter().map(move |id| (name, id))).collect();
    let wanted: Vec<_> = named.iter().map(|(_, id)| *id).collect();
    let program = Program::of_runs(&low.graph, &wanted);
    let mut out = head(&program, &plan, low.graph.len());
    for leaf in program.leaves() {
        let _ = writeln!(out, "  leaf {leaf:<4} {}", leaf_in_words(*leaf, &low.leaves, plan.columns()));
    }
    for stage in 0..program.n_stages() {
        let _ = writeln!(out, "stage {stage}:");
        for instruction in program.stage(stage) {
            let _ = writeln!(out, "  {}", in_words(instruction));
        }
    }
    out.push_str("wanted:\n");
    for ((name, _), wanted) in named.iter().zip(program.wanted()) {
        let place = match wanted {
            Wanted::Column(slot) => slot_in_words(*slot),
            Wanted::Constant(value) => format!("{value}"),
        };
        let _ = writeln!(out, "  {name} in {place}");
    }
    Ok(out)
}

fn head(program: &Program, plan: &Plan, n_nodes: usize) -> String {
    let n_steps: usize = (0..program.n_stages()).map(|stage| program.stage(stage).len()).sum();
    format!(
        "{n_nodes} nodes in the graph; {n_steps} instructions, {} registers, {} leaves of {} columns drawn; \
         {} runs in a block\n",
        program.n_registers(),
        program.leaves().len(),
        plan.columns().len(),
        program.block_size(plan.columns().len()),
    )
}

fn leaf_in_words(leaf: u32, leaves: &[LeafSource], columns: &[Column]) -> String {
    match leaves.get(leaf as usize) {
        Some(LeafSource::Held(value)) => format!("held at {value}"),
        Some(LeafSource::Drawn(column)) => match columns.get(*column) {
            Some(Column { name, lane: Some(lane), .. }) => format!("{name}, year {lane}"),
            Some(column) => column.name.clone(),
            None => "?".into(),
        },
        None => "?".into(),
    }
}

fn in_words(instruction: &Instruction) -> String {
    let slot = slot_in_words;
    match *instruction {
        Instruction::Unary(r, op, a) => format!("r{r} = {op:?} {}", slot(a)),
        Instruction::Binary(r, op, a, b) => format!("r{r} = {op:?} {} {}", slot(a), slot(b)),
        Instruction::RightConstant(r, op, a, k) => format!("r{r} = {op:?} {} {k}", slot(a)),
        Instruction::LeftConstant(r, op, k, b) => format!("r{r} = {op:?} {k} {}", slot(b)),
        Instruction::Select(r, c, a, b) => format!("r{r} = Select {} {} {}", slot(c), slot(a), slot(b)),
        Instruction::Call(call) => format!("block operation {call}"),
    }
}

fn slot_in_words(slot: Slot) -> String {
    match slot {
        Slot::Register(r) => format!("r{r}"),
        Slot::Leaf(leaf) => format!("leaf {leaf}"),
    }
}
