//! A simulated home laid into the graph: one block operation over its settings, twelve nodes of each wanted output.

use std::sync::Arc;

use crate::engine::graph::NodeId;
use crate::formula::types::Shape;
use crate::hotwater::outputs::Output;
use crate::model::homes::{HomeItem, SettingItem, SettingValues, output_name};
use crate::model::lower::{Lowering, Sheet};
use crate::model::simulated::{Cell, SettingCells, SimulatedYear, Years};

impl Lowering<'_> {
    /// The wanted outputs of a simulated home, from its settings, which are laid already.
    pub(super) fn lay_home(&mut self, home: &HomeItem, sheet: &mut Sheet) {
        let mut operands: Vec<NodeId> = Vec::new();
        let mut settings = Vec::with_capacity(home.settings.len());
        for SettingItem { setting, unit, values } in &home.settings {
            let cells = match values {
                SettingValues::Held(values) => values.iter().map(|&v| Cell::Held(v)).collect(),
                SettingValues::Working(name) => {
                    let cell = |node| match self.graph.as_constant(node) {
                        Some(value) => Cell::Held(unit.from_base(value)),
                        None => {
                            operands.push(node);
                            Cell::Operand(operands.len() - 1)
                        }
                    };
                    sheet.nodes(name).into_iter().map(cell).collect()
                }
            };
            settings.push(SettingCells { setting: *setting, unit: unit.clone(), cells });
        }
        let scale =
            |output: Output| self.model.units.parse(output.info().unit).map_or(1.0, |unit| unit.scale);
        let op = SimulatedYear {
            seed: self.plan.design().seed,
            vectors: self.plan.vectors,
            stream: home.stream.clone(),
            content: home.content.clone(),
            home: Arc::clone(&home.home),
            settings,
            wanted: home.wanted.iter().map(|&output| (output, scale(output))).collect(),
            years: Years::default(),
        };
        let nodes = self.graph.call_block(Arc::new(op), operands);
        for (output, months) in home.wanted.iter().zip(nodes.chunks_exact(12)) {
            sheet.set(&output_name(&home.about.name, *output), Shape::Monthly, months.to_vec());
        }
    }
}
