//! What is wrong with a table: each problem at its key, and keys that nobody asked for.

use std::ops::Range;

use num_rational::BigRational;
use toml::Spanned;
use toml::de::DeValue;

use super::{Read, TableReader};
use crate::describe::front_end_file::problem::Problem;

impl TableReader<'_> {
    /// Reports every key that nobody asked for.
    pub(crate) fn finish(self) {
        let keys = self.known.iter().map(|key| self.full_key(key));
        self.notes.keys.borrow_mut().extend(keys);
        for (key, _) in self.table {
            let name: &str = key.get_ref();
            if self.known.contains(&name) {
                continue;
            }
            let nearest = self
                .known
                .iter()
                .map(|known| (strsim::damerau_levenshtein(name, known), *known))
                .min()
                .filter(|(distance, _)| *distance <= 3);
            let fix = match nearest {
                Some((_, known)) => format!("did you mean {known}?"),
                None => format!("remove it; known here are {}", self.known.join(", ")),
            };
            // A quoted key may hold anything; escaped, it stays on its line and cannot steer a terminal.
            let shown = self.full_key(&name.escape_debug().to_string());
            let rule = "unknown key".to_owned();
            self.notes.note(Problem::new(shown, key.span(), rule, fix));
        }
    }

    /// Adds a problem about a key of this table.
    pub(crate) fn report(&self, key: &str, span: Range<usize>, rule: String, fix: String) {
        let value = self.text.get(span.clone()).unwrap_or_default();
        self.notes.note(Problem {
            value: if value.contains('\n') { "" } else { value }.to_owned(),
            ..Problem::new(self.full_key(key), span, rule, fix)
        });
    }

    /// Adds a problem about a key of a table below this one (of this one, for an empty table), underlining other keys that
    /// take part.
    pub(crate) fn report_at(
        &self,
        (table, key): (&str, &str),
        others: &[(&str, &str)],
        rule: String,
        fix: String,
    ) {
        let place = |table: &str, key: &str| {
            if table.is_empty() {
                return self.table.get(key).map(Spanned::span);
            }
            let table = self.table.get(table)?.get_ref().as_table()?;
            table.get(key).map(Spanned::span)
        };
        // What is missing is missing in its table.
        let span = place(table, key).or_else(|| place("", table));
        let span = span.unwrap_or(0..0);
        let value = self.text.get(span.clone()).unwrap_or_default();
        let key = [table, key].join(".").trim_start_matches('.').to_owned();
        self.notes.note(Problem {
            value: value.lines().next().unwrap_or_default().to_owned(),
            others: others
                .iter()
                .filter_map(|(table, key)| Some((place(table, key)?, format!("with this {key}"))))
                .collect(),
            ..Problem::new(key, span, rule, fix)
        });
    }

    /// Whether `min_c` is below `max_c`, as far as both are there; else reports it.
    pub(crate) fn rises(
        &self,
        min: &Option<Read<BigRational>>,
        max: &Option<Read<BigRational>>,
    ) -> bool {
        let (Some(min), Some(max)) = (min, max) else {
            return true;
        };
        let rises = min.value < max.value;
        if !rises {
            let fix = "swap or correct the two temperatures".to_owned();
            self.report(
                "min_c",
                min.span.clone(),
                "must be below max_c".to_owned(),
                fix,
            );
        }
        rises
    }

    pub(super) fn missing(&self, key: &str, fix: String) {
        let (key, rule) = (self.full_key(key), "is missing".to_owned());
        self.notes.note(Problem::new(key, self.span(), rule, fix));
    }

    pub(super) fn wrong_type(
        &self,
        key: &str,
        value: &Spanned<DeValue<'_>>,
        found: &DeValue<'_>,
        kind: &str,
    ) {
        let found = Self::article(found.type_str());
        self.report(
            key,
            value.span(),
            format!("is {found}, {kind} is wanted"),
            format!("write {key} as {kind}"),
        );
    }

    pub(super) fn full_key(&self, key: &str) -> String {
        if self.name.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.name)
        }
    }

    /// A type with its article.
    pub(super) fn article(kind: &str) -> String {
        let vowel = kind.starts_with(['a', 'e', 'i', 'o', 'u']);
        format!("{} {kind}", if vowel { "an" } else { "a" })
    }
}
