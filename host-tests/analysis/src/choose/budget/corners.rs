//! The worst case: the lowest and the highest value of each output with every input at one of its limits.
//!
//! First-order signs alone are not enough. After a calibration many terms have no first-order part, and a sign of a zero is
//! arbitrary, yet their products with other terms move the end of the range. So the signs are searched: from the first-order
//! corner on, every single sign and every pair of signs is turned round while that moves the end outwards. The answer is a
//! corner that no change of one or two signs makes worse.

use super::input::{Correlation, Input, Model};

/// Below this an end has not moved: rounding of double precision, far below a nanovolt.
const MOVED: f64 = 1e-9;

/// One corner: for each group of inputs, whether it stands at its upper limit.
type Corner = Vec<bool>;

/// Lowest and highest value of each output over the corners that the search visits.
///
/// `signed` holds, for each output, the first-order part of each input with its sign; the search starts from there. Inputs with
/// a correlation coefficient of 1 move together.
pub(super) fn worst(
    inputs: &[Input],
    correlations: &[Correlation],
    signed: &[Vec<f64>],
    model: &Model,
) -> Vec<(f64, f64)> {
    let groups = groups(inputs, correlations);
    let mut search = Search {
        inputs,
        groups: &groups,
        model,
        values: inputs.iter().map(|input| input.estimate).collect(),
        out: vec![0.0; signed.len()],
        ends: vec![[End::NOWHERE; 2]; signed.len()],
    };
    search.take(&Corner::new());
    for parts in signed {
        let upper: Corner = groups
            .iter()
            .map(|group| group.iter().map(|index| parts[*index]).sum::<f64>() >= 0.0)
            .collect();
        let lower = upper.iter().map(|at_upper| !at_upper).collect();
        search.visit(&upper);
        search.visit(&lower);
    }
    while let Some(corner) = search.unexplored() {
        search.explore(corner);
    }
    search
        .ends
        .iter()
        .map(|[low, high]| (-low.reach, high.reach))
        .collect()
}

/// Inputs that can move, those that move together in one group.
fn groups(inputs: &[Input], correlations: &[Correlation]) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (index, input) in inputs.iter().enumerate() {
        if input.distribution.worst() <= 0.0 {
            continue;
        }
        let partner = correlations.iter().find_map(|pair| {
            let other = match index {
                _ if pair.coefficient < 1.0 => return None,
                _ if pair.one == index => pair.other,
                _ if pair.other == index => pair.one,
                _ => return None,
            };
            groups.iter().position(|group| group.contains(&other))
        });
        match partner.and_then(|place| groups.get_mut(place)) {
            Some(group) => group.push(index),
            None => groups.push(vec![index]),
        }
    }
    groups
}

/// One end of one output: how far out it was found, in its own direction, and where.
#[derive(Clone)]
struct End {
    reach: f64,
    corner: Corner,
    explored: bool,
}

impl End {
    const NOWHERE: Self = Self {
        reach: f64::NEG_INFINITY,
        corner: Vec::new(),
        explored: true,
    };
}

struct Search<'s> {
    inputs: &'s [Input],
    groups: &'s [Vec<usize>],
    model: &'s Model<'s>,
    values: Vec<f64>,
    out: Vec<f64>,
    /// Lower and upper end of each output.
    ends: Vec<[End; 2]>,
}

impl Search<'_> {
    /// Evaluates a corner; it counts for every output.
    fn visit(&mut self, corner: &Corner) {
        for (group, at_upper) in self.groups.iter().zip(corner) {
            for &index in group {
                let input = &self.inputs[index];
                let limit = input.distribution.worst();
                self.values[index] = input.estimate + if *at_upper { limit } else { -limit };
            }
        }
        self.take(corner);
    }

    /// Evaluates the values as they stand, at first the estimates themselves.
    fn take(&mut self, corner: &Corner) {
        (self.model)(&self.values, &mut self.out);
        for (ends, value) in self.ends.iter_mut().zip(&self.out) {
            for (end, reach) in ends.iter_mut().zip([-value, *value]) {
                if reach > end.reach + MOVED {
                    end.reach = reach;
                    end.corner.clone_from(corner);
                    end.explored = false;
                }
            }
        }
    }

    fn unexplored(&mut self) -> Option<Corner> {
        let mut ends = self.ends.iter_mut().flatten();
        let end = ends.find(|end| !end.explored)?;
        end.explored = true;
        Some(end.corner.clone())
    }

    /// Visits every corner that differs in one sign or two.
    fn explore(&mut self, mut corner: Corner) {
        for one in 0..corner.len() {
            turn(&mut corner, one);
            self.visit(&corner);
            for other in one + 1..corner.len() {
                turn(&mut corner, other);
                self.visit(&corner);
                turn(&mut corner, other);
            }
            turn(&mut corner, one);
        }
    }
}

fn turn(corner: &mut Corner, place: usize) {
    corner[place] = !corner[place];
}

#[cfg(test)]
mod tests {
    use super::worst;
    use crate::choose::budget::distribution::Distribution;
    use crate::choose::budget::input::{Correlation, Input};

    fn unit() -> Input {
        Input::around_zero(Distribution::Rectangular { half: 1.0 })
    }

    /// A product of two terms has no first-order part at all, and still reaches 1 both ways; a square reaches 1 one way, and its
    /// estimate is its other end.
    #[test]
    fn a_product_has_no_first_order_part() {
        let model = |values: &[f64], out: &mut [f64]| out[0] = values[0] * values[1];
        let signed = vec![vec![0.0, 0.0]];
        assert_eq!(
            worst(&[unit(), unit()], &[], &signed, &model),
            [(-1.0, 1.0)]
        );
        let together = Correlation {
            one: 0,
            other: 1,
            coefficient: 1.0,
        };
        assert_eq!(
            worst(&[unit(), unit()], &[together], &signed, &model),
            [(0.0, 1.0)]
        );
        // A third one moves by itself.
        let model = |values: &[f64], out: &mut [f64]| out[0] = values[0] - values[2];
        let signed = vec![vec![1.0, 0.0, -1.0]];
        assert_eq!(
            worst(&[unit(); 3], &[together], &signed, &model),
            [(-2.0, 2.0)]
        );
    }
}
