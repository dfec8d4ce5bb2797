//! What the files of a crate import from each other: every path that begins with `crate`, `super` or a module of the file's own.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// A module's path from the crate's root.
pub type Module = Vec<String>;
/// What each file imports.
pub type Imports = BTreeMap<Module, BTreeSet<Module>>;

/// The files of a crate but its root, by module. Files that no module declares, texts of another language's tests, are none.
pub fn read(root: &Path) -> BTreeMap<Module, String> {
    let mut files = BTreeMap::new();
    let mut open = vec![(Vec::new(), root.join("lib.rs"))];
    while let Some((module, path)) = open.pop() {
        let text =
            fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
        let stem = path.file_stem().expect("a name");
        let folder = match stem.to_str() {
            Some("lib" | "mod") => path.with_file_name(""),
            _ => path.with_extension(""),
        };
        for child in declared(&code(&text)) {
            let file = folder.join(format!("{child}.rs"));
            let file = if file.is_file() {
                file
            } else {
                folder.join(&child).join("mod.rs")
            };
            let mut module: Module = module.clone();
            module.push(child);
            open.push((module, file));
        }
        if !module.is_empty() {
            files.insert(module, text);
        }
    }
    files
}

/// What each file imports; unit tests at its end are left out.
pub fn imports(files: &BTreeMap<Module, String>) -> Imports {
    files
        .iter()
        .map(|(module, text)| {
            let code = code(text);
            let mut found = BTreeSet::new();
            for path in paths(&code, &declared(&code)) {
                let absolute = absolute(module, path);
                let file = (1..=absolute.len())
                    .rev()
                    .find_map(|parts| files.get_key_value(&absolute[..parts]));
                found.extend(
                    file.map(|(file, _)| file.clone())
                        .filter(|file| file != module),
                );
            }
            (module.clone(), found)
        })
        .collect()
}

/// The text without comments, without what stands in quotes, and without the unit tests.
fn code(text: &str) -> String {
    let text = text.split("#[cfg(test)]\nmod ").next().unwrap_or_default();
    let mut code = String::new();
    let mut rest = text;
    while let Some(at) = rest.find(['/', '"', '\'']) {
        let (before, from) = rest.split_at(at);
        code.push_str(before);
        let skipped = if from.starts_with("//") {
            from.find('\n').unwrap_or(from.len())
        } else if from.starts_with('"') {
            string(from)
        } else if from.starts_with("'\"'") || from.starts_with("'/'") {
            3
        } else {
            code.push_str(&from[..1]);
            1
        };
        rest = &from[skipped..];
    }
    code + rest
}

/// Length of a string with its quotes.
fn string(text: &str) -> usize {
    let mut escaped = false;
    let end = text.char_indices().skip(1).find(|(_, sign)| {
        let ends = *sign == '"' && !escaped;
        escaped = *sign == '\\' && !escaped;
        ends
    });
    end.map_or(text.len(), |(at, _)| at + 1)
}

/// The modules that a file declares as files.
fn declared(code: &str) -> Vec<String> {
    let test_only = |before: &str| before.trim_end().ends_with("#[cfg(test)]");
    let mut found = Vec::new();
    for (at, _) in code.match_indices("mod ") {
        let line = code[..at].rfind('\n').map_or(0, |end| end + 1);
        let name = code[at + 4..].split(';').next().unwrap_or_default();
        let public = code[line..at].trim();
        if (public.is_empty() || public.starts_with("pub"))
            && is_name(name)
            && !test_only(&code[..line])
        {
            found.push(name.to_owned());
        }
    }
    found
}

fn is_name(text: &str) -> bool {
    !text.is_empty()
        && text
            .chars()
            .all(|sign| sign == '_' || sign.is_ascii_alphanumeric())
}

/// Every path that begins with `crate`, `super` or one of the names; groups in braces are taken apart.
fn paths(code: &str, names: &[String]) -> Vec<Vec<String>> {
    let heads = ["crate", "super"]
        .into_iter()
        .chain(names.iter().map(String::as_str));
    let mut found = Vec::new();
    for head in heads {
        for (at, _) in code.match_indices(&format!("{head}::")) {
            let before = code[..at].chars().next_back().unwrap_or(' ');
            if !before.is_ascii_alphanumeric() && before != '_' && before != ':' {
                found.extend(tree(&code[at..]));
            }
        }
    }
    found
}

/// The paths of a use tree, or the one path of an expression.
fn tree(text: &str) -> Vec<Vec<String>> {
    let text = text.trim_start();
    let end = text
        .find(|sign: char| sign != '_' && !sign.is_ascii_alphanumeric())
        .unwrap_or(text.len());
    let head = text[..end].to_owned();
    let Some(rest) = text[end..].strip_prefix("::") else {
        return vec![vec![head]];
    };
    let below = match rest.strip_prefix('{') {
        Some(group) => parts(group).iter().flat_map(|part| tree(part)).collect(),
        None => tree(rest),
    };
    below
        .into_iter()
        .map(|path| [vec![head.clone()], path].concat())
        .collect()
}

/// What stands between the commas of a group, up to its closing brace.
fn parts(group: &str) -> Vec<&str> {
    let (mut depth, mut start, mut found) = (0, 0, Vec::new());
    for (at, sign) in group.char_indices() {
        match sign {
            '{' => depth += 1,
            '}' if depth > 0 => depth -= 1,
            ',' | '}' if depth == 0 => {
                found.push(&group[start..at]);
                start = at + 1;
                if sign == '}' {
                    break;
                }
            }
            _ => {}
        }
    }
    found.retain(|part| !part.trim().is_empty());
    found
}

/// A path from the crate's root.
fn absolute(module: &Module, path: Vec<String>) -> Module {
    let mut base = module.clone();
    let mut path = path.into_iter().peekable();
    match path.peek().map(String::as_str) {
        Some("crate") => {
            path.next();
            base.clear();
        }
        Some("super") => {
            while path.next_if(|part| part == "super").is_some() {
                base.pop();
            }
        }
        _ => {}
    }
    base.extend(path);
    base
}
