//! Is a text well formed, and a picture's content within the picture and free of overlaps? With controls that must fail.

/// Height of text to its size, and width of a character: at most, in the usual sans-serif faces.
const EM_A_CHARACTER: f64 = 0.62;

/// Elements of HTML without an end tag.
const VOID: [&str; 2] = ["meta", "br"];

/// Whether every tag that opens closes in order, every attribute is quoted, and no name stands twice as an id.
pub fn well_formed(text: &str) -> Result<(), String> {
    let mut open: Vec<&str> = Vec::new();
    let mut ids: Vec<&str> = Vec::new();
    let mut rest = text;
    while let Some(start) = rest.find('<') {
        let (plain, tag) = rest.split_at(start);
        if plain.contains('>') && open.last() != Some(&"style") {
            return Err(format!("a stray > in {plain:?}"));
        }
        let end = tag.find('>').ok_or("a tag without an end")?;
        let inside = &tag[1..end];
        rest = &tag[end + 1..];
        if inside.starts_with('!') {
            continue;
        }
        if let Some(name) = inside.strip_prefix('/') {
            if open.pop() != Some(name) {
                return Err(format!("</{name}> closes nothing"));
            }
            continue;
        }
        let name = inside.split([' ', '/']).next().unwrap_or("");
        attributes(inside, &mut ids)?;
        if !inside.ends_with('/') && !VOID.contains(&name) {
            open.push(name);
        }
    }
    if open.is_empty() {
        Ok(())
    } else {
        Err(format!("never closed: {open:?}"))
    }
}

fn attributes<'a>(tag: &'a str, ids: &mut Vec<&'a str>) -> Result<(), String> {
    let quotes = tag.matches('"').count();
    if !quotes.is_multiple_of(2) || tag.matches("=\"").count() * 2 != quotes {
        return Err(format!("attributes of <{tag}>"));
    }
    if let Some(id) = attribute(tag, "id") {
        if ids.contains(&id) {
            return Err(format!("two ids {id}"));
        }
        ids.push(id);
    }
    Ok(())
}

fn attribute<'a>(tag: &'a str, name: &str) -> Option<&'a str> {
    let start = tag.find(&format!(" {name}=\""))? + name.len() + 3;
    tag[start..].split('"').next()
}

fn number(tag: &str, name: &str) -> Result<f64, String> {
    let text = attribute(tag, name).ok_or_else(|| format!("no {name} in {tag}"))?;
    text.parse().map_err(|_| format!("{name} = {text}"))
}

/// Left, top, right, bottom.
type Box = [f64; 4];

/// Whether all points and texts lie within the picture, no two texts touch, and there is a curve.
pub fn check(picture: &str) -> Result<(), String> {
    well_formed(picture)?;
    if picture.contains("NaN") || picture.contains("inf\"") {
        return Err("a number that is none".to_owned());
    }
    let size = attribute(picture, "viewBox").ok_or("no viewBox")?;
    let size: Vec<f64> = size
        .split(' ')
        .filter_map(|part| part.parse().ok())
        .collect();
    let [_, _, width, height] = size[..] else {
        return Err("viewBox".to_owned());
    };
    let inside = |x: f64, y: f64| x >= 0.0 && y >= 0.0 && x <= width && y <= height;
    let mut points = 0;
    for list in picture.split(" points=\"").skip(1) {
        let list = list.split('"').next().unwrap_or("");
        for pair in list.split_whitespace() {
            let (x, y) = pair.split_once(',').ok_or("a point")?;
            let parsed = (x.parse::<f64>(), y.parse::<f64>());
            let (Ok(x), Ok(y)) = parsed else {
                return Err(format!("point {pair}"));
            };
            if !inside(x, y) {
                return Err(format!("point {pair} lies outside"));
            }
            points += 1;
        }
    }
    if points < 20 {
        return Err(format!("only {points} points"));
    }
    let texts: Vec<(&str, Box)> = picture
        .split("<text")
        .skip(1)
        .map(text_box)
        .collect::<Result<_, _>>()?;
    for (place, (text, [left, top, right, bottom])) in texts.iter().enumerate() {
        if !inside(*left, *top) || !inside(*right, *bottom) {
            return Err(format!("{text:?} is cut off"));
        }
        for (other, [l, t, r, b]) in &texts[..place] {
            if left < r && l < right && top < b && t < bottom {
                return Err(format!("{text:?} overlaps {other:?}"));
            }
        }
    }
    Ok(())
}

/// A text with the most room that it may need.
fn text_box(element: &str) -> Result<(&str, Box), String> {
    let (tag, rest) = element.split_once('>').ok_or("a text")?;
    let text = rest.split('<').next().unwrap_or("").trim();
    let (x, y, size) = (
        number(tag, "x")?,
        number(tag, "y")?,
        number(tag, "font-size")?,
    );
    // An entity is one character.
    let shown = text.replace("&apos;", "'").replace("&amp;", "&");
    let width = shown.chars().count() as f64 * EM_A_CHARACTER * size;
    let (from, to) = match attribute(tag, "text-anchor") {
        Some("start") => (0.0, width),
        Some("middle") => (-width / 2.0, width / 2.0),
        _ => (-width, 0.0),
    };
    let (above, below) = match attribute(tag, "dy") {
        Some("0.76em") => (0.0, size),
        Some("0.5ex") => (-size / 2.0, size / 2.0),
        _ => (-size, 0.0),
    };
    Ok((
        text,
        match attribute(tag, "transform") {
            // Turned upwards: what ran to the right runs up, what lay below lies to the right.
            Some(_) => [x + above, y - to, x + below, y - from],
            None => [x + from, y + above, x + to, y + below],
        },
    ))
}

#[test]
fn faults_are_noticed() {
    for wrong in [
        "<p><b></p></b>",
        "<p>",
        "</p>",
        "<p class=\"a></p>",
        "<p id=\"a\"></p><p id=\"a\"></p>",
        "<p>1 > 0</p>",
    ] {
        assert!(well_formed(wrong).is_err(), "{wrong}");
    }
    assert!(well_formed("<!DOCTYPE html><meta a=\"b\"><p id=\"a\"><i/>x</p>").is_ok());
    let picture = |points: &str, second: &str| {
        let text = |x: &str| {
            format!(
                "<text x=\"{x}\" y=\"50\" dy=\"0.5ex\" text-anchor=\"start\" font-size=\"10\">\nabc\n</text>"
            )
        };
        format!(
            "<svg viewBox=\"0 0 100 100\"><polyline points=\"{points}\"/>{}{}</svg>",
            text("10"),
            text(second)
        )
    };
    let good = "1,2 ".repeat(20);
    assert_eq!(check(&picture(&good, "40")), Ok(()));
    assert!(
        check(&picture(&good, "28"))
            .unwrap_err()
            .contains("overlaps")
    );
    assert!(
        check(&picture(&good, "90"))
            .unwrap_err()
            .contains("cut off")
    );
    assert!(
        check(&picture(&format!("{good}101,2"), "40"))
            .unwrap_err()
            .contains("outside")
    );
    assert!(check(&picture("1,2", "40")).unwrap_err().contains("points"));
}
