//! Pictures under their titles.

use maud::{Markup, PreEscaped, html};

use super::frame::BREAK;
use crate::picture::curves::Curves;
use crate::picture::plot::{Kind, svg};

pub(super) fn picture_under(title: &str, picture: &str) -> Markup {
    html! {
        figure {
            figcaption { (title) } (BREAK)
            (PreEscaped(picture))
        }
        (BREAK)
    }
}

/// A picture under its title; nothing where the front end has none of the kind.
pub(super) fn picture(curves: &Curves, kind: Kind) -> Markup {
    svg(curves, kind).map_or_else(|| html! {}, |picture| picture_under(kind.title(), &picture))
}
