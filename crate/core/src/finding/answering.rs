//! The answers of one run in parts, each short enough to look up between two of them.

use super::{Answers, Settings, Watch, findings, smallest_current};
use crate::loss::{LossModel, Moments, Off, Peak, Quiescent, at, peak, quiescent};
use crate::map::{
    Circumstances, CutOff, Energy, Extent, Grid, Index, Levels, Map, Operating, Point, Source, energy,
};
use crate::point::Rows;

/// What the parts look at.
#[derive(Clone, Copy)]
pub struct Given<'a> {
    /// Rows of the run.
    pub rows: &'a dyn Rows,
    /// Its operating rows.
    pub op: &'a Operating,
    /// Those by place.
    pub index: &'a Index,
    /// What feeds it.
    pub source: &'a Source,
    /// Its under-voltage behaviour.
    pub cut_off: &'a CutOff,
}

/// Answers in the making.
#[derive(Debug, Default)]
pub struct Answering {
    done: usize,
    levels: Levels,
    grid: Grid,
    map: Map,
    moments: Option<Moments>,
    loss_model: LossModel,
    peak: Option<Peak>,
    at: Vec<Point>,
    quiescent: Option<(Quiescent, Off)>,
    energy: Option<Energy>,
    watch: Watch,
}

impl Answering {
    /// Number of parts.
    pub const PARTS: usize = 12;

    /// Parts that are done.
    #[must_use]
    pub fn done(&self) -> usize {
        self.done
    }

    /// Does the next part; gives the answers after the last one.
    ///
    /// What is given must be the same in all parts.
    pub fn step(&mut self, given: Given<'_>, settings: &Settings) -> Option<Answers> {
        let Given { rows, op, index, source, cut_off } = given;
        let part = self.done;
        self.done += 1;
        match part {
            0 => self.levels = Levels::find(op),
            1 => {
                self.grid = Grid::following(Extent::of(op), op.len(), Some(&self.levels), settings.map.grid);
            }
            2 => {
                let around = Circumstances {
                    source: Some(source),
                    cut_off: Some(cut_off),
                    levels: Some(&self.levels),
                    smallest_current: smallest_current(op),
                };
                self.map = Map::build(op, std::mem::take(&mut self.grid), around, &settings.map);
            }
            3 => self.moments = LossModel::gather(op),
            4 => self.moments.iter_mut().for_each(|moments| LossModel::look(op, moments)),
            5 => {
                let moments = self.moments.take();
                self.loss_model = moments.map_or_else(LossModel::default, |m| LossModel::conclude(op, &m));
            }
            6 => self.peak = Some(peak(op, &self.map, &self.levels, &self.loss_model.splits())),
            7 => {
                self.at = at(op, index, &self.loss_model, &settings.points);
                self.at.iter_mut().for_each(|point| point.find_interval(op, settings.map.draws));
            }
            8 => self.quiescent = Some(quiescent(rows, op, &self.loss_model, settings.quiescent_at)),
            9 => self.energy = Some(energy(op, &self.map)),
            10 => self.watch = Watch::of(op, &self.at),
            _ => {}
        }
        if self.done < Self::PARTS {
            return None;
        }
        let (quiescent, off) = self.quiescent.take()?;
        let mut answers = Answers {
            map: std::mem::take(&mut self.map),
            at: std::mem::take(&mut self.at),
            peak: self.peak.take()?,
            quiescent,
            off,
            cut_off: cut_off.clone(),
            source: source.clone(),
            levels: std::mem::take(&mut self.levels),
            loss_model: std::mem::take(&mut self.loss_model),
            energy: self.energy.take()?,
            watch: std::mem::take(&mut self.watch),
            findings: Vec::new(),
            grade: op.correction.grade.code(),
        };
        answers.findings = findings(rows, op, &answers);
        Some(answers)
    }
}
