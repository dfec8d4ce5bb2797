//! Ends of what trials gave: how sure they are, and that none is lost.

use super::*;

/// Eight parts of a block each: their ends' variance by the differences of all pairs, over eight.
#[test]
fn the_error_of_an_end_is_that_of_its_parts() {
    let trials = PARTS * CHUNK;
    let normal = Input::around_zero(Distribution::Normal { sd: 1.0 });
    let model = |values: &[f64], out: &mut [f64]| out.copy_from_slice(values);
    let run = Run { trials, seed: 1 }.go(&[normal], &[], 1, &model, &|_| ());
    let parts = run.blocks.iter().map(|block| summary(block));
    let ends: Vec<f64> = parts.map(|part| part.high.max(-part.low)).collect();
    let pairs = ends.iter().enumerate().flat_map(|(at, one)| {
        let others = ends.iter().skip(at + 1);
        others.map(move |other| (one - other).powi(2))
    });
    let variance = pairs.sum::<f64>() / (8.0 * 7.0);
    let stated = run.summaries(&[0]).first().map_or(0.0, |of| of.end_error);
    assert!((stated / (variance / 8.0).sqrt() - 1.0).abs() < 1e-9);
}

/// One value in a hundred lies at 0 and nearly half of all at 1: what is gathered below that is too little, whatever lies above.
#[test]
fn tails_beside_a_heap_are_whole() {
    let values: Vec<f64> = (0..4 * CHUNK)
        .map(|at| match at % 100 {
            0 => 0.0,
            1..50 => 1.0,
            _ => 1.0 + at as f64,
        })
        .collect();
    let wanted = values.len() / 40;
    let heap = (
        wanted - values.len().div_ceil(100),
        values.len().div_ceil(100),
    );
    let mut sorted = values.clone();
    sorted.sort_unstable_by(f64::total_cmp);
    let (low, high) = tails(&values, wanted);
    assert_eq!(
        (&low[..], &high[..]),
        (&sorted[..wanted], &sorted[values.len() - wanted..])
    );
    assert!(
        low[heap.1 - 1] == 0.0 && low[heap.1..].iter().all(|value| *value == 1.0) && heap.0 > 0
    );
    let mirrored: Vec<f64> = values.iter().map(|value| -value).collect();
    let (low, high) = tails(&mirrored, wanted);
    let back = |tail: &[f64]| tail.iter().rev().map(|value| -value).collect::<Vec<_>>();
    assert_eq!(
        (back(&high), back(&low)),
        (
            sorted[..wanted].to_vec(),
            sorted[values.len() - wanted..].to_vec()
        )
    );
}
