//! Calibration inputs brought to the fit: one instant per row, rows that cannot be true left out.

use super::{Bench, CalibrationUse, InputSettings};
use crate::align::{self, Aligned, Delays, Noise, Steps};
use crate::channel::{CHANNELS, Channel, Readings};
use crate::fixture::{self, Calibration, CalibrationRun, RunKind};
use crate::quantity::Quantity;
use crate::sieve::{self, Reason};

/// One calibration input, ready.
struct Prepared {
    input: usize,
    kind: RunKind,
    columns: [Vec<f64>; 5],
    kept: Vec<bool>,
    noise: [f64; 5],
    resistor: Option<fixture::Stated>,
    own: InputSettings,
}

/// Fits the fixture from the bench's calibration inputs, or takes the record that is set.
///
/// Gives the calibration and, where the fit was not possible, a sentence that says why; readings are
/// then taken as logged.
pub(super) fn calibrate(bench: &Bench) -> (Calibration, Option<String>) {
    let through = bench.through.as_ref().and_then(Option::as_ref);
    let prepared: Vec<Prepared> = (0..bench.inputs.len())
        .filter_map(|index| {
            let (kind, readings) = bench.calibration_run(index)?;
            let own = bench.settings.inputs.get(index).cloned().unwrap_or_default();
            Some(prepare(bench, index, kind, readings, through, own))
        })
        .collect();
    let plane = bench.settings.fixture.plane;
    let record = bench.settings.calibration.as_ref().map(|record| {
        Calibration::from_record(&record.to_string()).map(|calibration| calibration.quoted_at(plane))
    });
    let record = match record {
        Some(Ok(record)) => Some(record),
        // A record that cannot be read matters unless the runs replace it.
        Some(Err(error))
            if prepared.is_empty() || bench.settings.calibration_use == CalibrationUse::CheckedByRuns =>
        {
            return (Calibration::as_logged(), Some(error.to_string()));
        }
        _ => None,
    };
    if prepared.is_empty()
        && let Some(record) = record
    {
        return (record, None);
    }
    let runs: Vec<CalibrationRun<'_>> = prepared
        .iter()
        .map(|part| CalibrationRun {
            input: part.input,
            name: &bench.inputs[part.input].name,
            kind: part.kind,
            time: bench.calibration_run(part.input).map_or(&[], |(_, readings)| &readings.time),
            columns: std::array::from_fn(|k| part.columns[k].as_slice()),
            kept: Some(&part.kept),
            noise: Some(part.noise),
            resistor: part.resistor,
            four_wire: part.own.four_wire,
            held_back: part.own.hold_back,
            path: part.own.path.as_deref().unwrap_or(&[]),
        })
        .collect();
    match fixture::fit(&runs, &bench.settings.fixture) {
        Ok(mut calibration) => {
            tell_steps(&mut calibration, bench, &prepared);
            if let Some(delays) = delays(bench, through) {
                tell_delays(&mut calibration, &delays);
            }
            let Some(mut record) = record else { return (calibration, None) };
            let check = fixture::check(&record, &calibration, &runs, &bench.settings.fixture);
            if bench.settings.calibration_use == CalibrationUse::CheckedByRuns {
                record.notes.insert(0, check.words.clone());
                record.report.checks.record = Some(check);
                return (record, None);
            }
            calibration.report.checks.record = Some(check);
            (calibration, None)
        }
        Err(error) => (Calibration::as_logged(), Some(error.to_string())),
    }
}

/// Delays that hold for every run of the bench; `None` where each run has its own or none are known.
fn delays(bench: &Bench, through: Option<&align::Through>) -> Option<Delays> {
    match (bench.settings.align.mode, through) {
        (align::Mode::Stated, _) => Some(Delays::stated(&bench.settings.align)),
        (align::Mode::Auto, Some(through)) => Some(through.delays()),
        _ => None,
    }
}

/// Channel of a report's entry; the difference of the output nodes counts as the high one.
fn place_of(name: &str) -> Option<Channel> {
    let known = CHANNELS.into_iter().find(|known| known.name() == name);
    known.or((name == "v_out").then_some(Channel::VOutHigh))
}

/// Writes the channels' steps into the report: bringing the rows to one instant hides them from the
/// fit, the logs show them.
fn tell_steps(calibration: &mut Calibration, bench: &Bench, prepared: &[Prepared]) {
    for (name, channel) in &mut calibration.report.channels.0 {
        let Some(place) = place_of(name) else { continue };
        let seen = prepared
            .iter()
            .filter_map(|part| bench.calibration_run(part.input))
            .map(|(_, readings)| readings.resolution[place.index()])
            .filter(|step| *step > 0.0);
        let smallest = seen.fold(f64::INFINITY, f64::min);
        if smallest.is_finite() {
            channel.step = Some(smallest);
        }
    }
}

/// Writes the delays into the report's channels.
fn tell_delays(calibration: &mut Calibration, delays: &Delays) {
    for (name, channel) in &mut calibration.report.channels.0 {
        if let Some(place) = place_of(name) {
            channel.delay = Quantity {
                value: Some(delays.seconds[place.index()]),
                u: delays.u[place.index()],
                why: None,
            };
        }
    }
}

fn prepare(
    bench: &Bench,
    input: usize,
    kind: RunKind,
    readings: &Readings,
    through: Option<&align::Through>,
    own: InputSettings,
) -> Prepared {
    let settings = &bench.settings;
    let noise = Noise::of(readings);
    let steps = Steps::find(readings, &noise, settings.sieve.step_limit);
    // Clocks that run by themselves stand to each other anew in every run.
    let own_through = bench.recorded(input).map(|_| align::through_delays(readings, &steps));
    let through = match &own_through {
        Some(own) => Some(own).filter(|own| kind == RunKind::StraightThrough && own.useful()),
        None => through,
    };
    let delays = delays(bench, through).unwrap_or_default();
    let aligned = Aligned::new(readings, &steps, &delays);
    let mut gates = settings.sieve.clone();
    // A shorted plane reads a few millivolts around zero and a blank output: neither is an error here.
    gates.gates.sign = false;
    gates.gates.off = false;
    gates.gates.supply_limit = false;
    gates.gates.slew = false;
    let masks = sieve::gates(
        &sieve::Input {
            aligned: &aligned,
            noise: &noise,
            delays: &delays,
            settled: sieve::settled(readings, &noise, &steps, &settings.sieve).recognised(),
        },
        &gates,
    );
    let columns = CHANNELS.map(|channel| {
        if !readings.has(channel) {
            return Vec::new();
        }
        let mut column = vec![0.0; readings.rows()];
        aligned.fill(channel, 0..readings.rows(), &mut column);
        column
    });
    let kept = masks.into_iter().map(Reason::kept).collect();
    Prepared { input, kind, columns, kept, noise: noise.sigma, resistor: own.resistor, own }
}
