//! What is wrong with a front-end file: file, line, key, value, rule and fix, underlined where it stands.

use std::ops::Range;
use std::path::Path;
use std::sync::Arc;

use miette::{Diagnostic, LabeledSpan, NamedSource, SourceCode};
use thiserror::Error;

use crate::files::rows::problem::shortened;

/// Characters of a value that are shown in a sentence; its line is shown as well.
const VALUE_CHARACTERS: usize = 80;

/// One broken rule.
#[derive(Debug, Clone)]
pub struct Problem {
    /// Where in the text.
    pub span: Range<usize>,
    /// `table.key`, a table's name, or empty for the whole file.
    pub key: String,
    /// The value as written; empty where it is missing.
    pub value: String,
    /// The rule that is broken.
    pub rule: String,
    /// How to fix it.
    pub fix: String,
    /// Other places that take part, each with a word.
    pub others: Vec<(Range<usize>, String)>,
}

impl Problem {
    /// A problem without a value.
    pub(crate) fn new(key: String, span: Range<usize>, rule: String, fix: String) -> Self {
        Self {
            span,
            key,
            value: String::new(),
            rule,
            fix,
            others: Vec::new(),
        }
    }
}

/// A [`Problem`] with its file, ready to be shown.
#[derive(Debug, Clone, Error)]
#[error("{}", self.headline())]
pub struct ShownProblem {
    file: String,
    line: usize,
    problem: Problem,
    source_text: Arc<NamedSource<String>>,
}

impl ShownProblem {
    fn headline(&self) -> String {
        let Self {
            file,
            line,
            problem: Problem {
                key, value, rule, ..
            },
            ..
        } = self;
        let stated = match (key.is_empty(), value.is_empty()) {
            (true, _) => String::new(),
            (false, true) => format!("{key}: "),
            (false, false) => format!("{key} = {value}: "),
        };
        format!("{file}:{line}: {stated}{rule}")
    }
}

impl Diagnostic for ShownProblem {
    fn help<'a>(&'a self) -> Option<Box<dyn std::fmt::Display + 'a>> {
        (!self.problem.fix.is_empty())
            .then(|| Box::new(&self.problem.fix) as Box<dyn std::fmt::Display>)
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        Some(&self.source_text)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let main =
            LabeledSpan::new_primary_with_span(Some("here".to_owned()), self.problem.span.clone());
        let others = self
            .problem
            .others
            .iter()
            .map(|(span, word)| LabeledSpan::new_with_span(Some(word.clone()), span.clone()));
        Some(Box::new(std::iter::once(main).chain(others)))
    }
}

/// Everything that is wrong with one file.
#[derive(Debug, Error)]
pub enum FileError {
    /// The file could not be read.
    #[error("{file}: cannot be read: {reason}")]
    Unreadable {
        /// The file.
        file: String,
        /// The system's reason.
        reason: String,
    },
    /// The file was read and breaks rules.
    #[error("{file}: {} problem(s)", problems.len())]
    Problems {
        /// The file.
        file: String,
        /// Each broken rule, in the file's order.
        problems: Vec<ShownProblem>,
    },
}

impl FileError {
    pub(crate) fn new(path: &Path, text: &str, mut problems: Vec<Problem>) -> Self {
        problems.sort_by_key(|problem| problem.span.start);
        let file = path.display().to_string();
        // What spans lines is underlined on its first: an open string may reach to the file's end.
        for problem in &mut problems {
            problem.value = shortened(&problem.value, VALUE_CHARACTERS);
            for span in std::iter::once(&mut problem.span)
                .chain(problem.others.iter_mut().map(|(span, _)| span))
            {
                *span = on_one_line(text, span);
            }
        }
        // An empty file has no line to point at; an empty line stands in for it.
        let shown = if text.is_empty() { "\n" } else { text };
        let source_text = Arc::new(NamedSource::new(&file, shown.to_owned()).with_language("TOML"));
        let problems = problems
            .into_iter()
            .map(|problem| ShownProblem {
                file: file.clone(),
                line: line_of(text, problem.span.start),
                problem,
                source_text: Arc::clone(&source_text),
            })
            .collect();
        Self::Problems { file, problems }
    }

    /// One line a problem, without the underlined source.
    pub fn lines(&self) -> Vec<String> {
        match self {
            Self::Unreadable { .. } => vec![self.to_string()],
            Self::Problems { problems, .. } => problems
                .iter()
                .map(|problem| format!("{problem} ({})", problem.problem.fix))
                .collect(),
        }
    }
}

impl Diagnostic for FileError {
    fn help<'a>(&'a self) -> Option<Box<dyn std::fmt::Display + 'a>> {
        matches!(self, Self::Unreadable { .. })
            .then(|| Box::new("give the path of a front-end file") as Box<dyn std::fmt::Display>)
    }
}

/// The part of a span that is on its first line.
fn on_one_line(text: &str, span: &Range<usize>) -> Range<usize> {
    let length = text
        .get(span.clone())
        .and_then(|spanned| spanned.find('\n'))
        .unwrap_or(span.len());
    span.start..span.start + length
}

fn line_of(text: &str, offset: usize) -> usize {
    text.as_bytes()
        .iter()
        .take(offset)
        .filter(|byte| **byte == b'\n')
        .count()
        + 1
}
