//! The pages of questions: what they show of the program is what it prints, and their links lead somewhere.
//! `TRYCMD=overwrite cargo test -p tallyvolt-host --test questions` renews what is shown; figures in sentences are the writer's.

use std::path::{Path, PathBuf};

fn repository() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

#[test]
fn pages_show_what_the_program_prints() {
    // Commands on a page are given as from the repository's top.
    std::env::set_current_dir(repository()).expect("the repository is there");
    trycmd::TestCases::new().case("docs/questions/*.md");
}

fn markdown(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).expect("a folder of pages");
    let paths = entries.map(|entry| entry.expect("an entry").path());
    paths
        .filter(|path| path.extension().is_some_and(|extension| extension == "md"))
        .collect()
}

/// Targets in a page that are not there.
fn broken(page: &Path, text: &str) -> Vec<String> {
    let folder = page.parent().expect("a page lies in a folder");
    text.split("](")
        .skip(1)
        .filter_map(|rest| rest.split(')').next())
        .filter(|target| !target.starts_with("https://") && !target.starts_with('#'))
        .filter_map(|target| target.split('#').next())
        .filter(|target| !folder.join(target).exists())
        .map(str::to_owned)
        .collect()
}

#[test]
fn links_lead_somewhere() {
    let top = repository();
    let mut pages = vec![
        top.join("README.md"),
        top.join("DEVELOPERS.md"),
        top.join("host-tests/embedding/README.md"),
    ];
    pages.extend(markdown(&top.join("docs")));
    pages.extend(markdown(&top.join("docs/questions")));
    assert!(pages.len() > 18, "{}", pages.len());
    for page in &pages {
        let text = std::fs::read_to_string(page).expect("a page");
        assert_eq!(broken(page, &text), [""; 0], "{}", page.display());
    }
    // The control.
    let page = top.join("docs/README.md");
    assert_eq!(broken(&page, "[x](no-such.md#here)"), ["no-such.md"]);
}

#[test]
fn every_question_is_on_the_map_and_starts_with_its_answer() {
    let map = std::fs::read_to_string(repository().join("docs/README.md")).expect("the map");
    let pages = markdown(&repository().join("docs/questions"));
    assert_eq!(pages.len(), 5);
    for page in pages {
        let name = page
            .file_name()
            .and_then(|name| name.to_str())
            .expect("text");
        assert!(map.contains(&format!("questions/{name}")), "{name}");
        let text = std::fs::read_to_string(&page).expect("a page");
        let first = text.lines().nth(2).expect("a third line");
        assert!(first.starts_with("**"), "{name}: the answer comes first");
    }
}
