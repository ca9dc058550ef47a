//! Reads the HTML of a paper back into a tree, so that PDF and HTML say the same words.
//!
//! Only for HTML that this program's own templates wrote: every element closed, but for the few
//! that are empty; text escaped. A drawing is kept as the SVG it is.

/// An element with its class, attributes and content.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Element {
    pub(super) name: String,
    attributes: Vec<(String, String)>,
    pub(super) children: Vec<Node>,
}

/// What an element holds.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Node {
    Element(Element),
    Text(String),
    /// One `<svg>`, as it was written.
    Drawing(String),
}

impl Element {
    /// An attribute's value, or nothing.
    pub(super) fn attribute(&self, name: &str) -> &str {
        let found = self.attributes.iter().find(|(key, _)| key == name);
        found.map_or("", |(_, value)| value)
    }

    /// Whether it is of this class.
    pub(super) fn is(&self, class: &str) -> bool {
        self.attribute("class").split(' ').any(|c| c == class)
    }

    /// The elements directly within.
    pub(super) fn elements(&self) -> impl Iterator<Item = &Self> {
        self.children.iter().filter_map(|node| match node {
            Node::Element(element) => Some(element),
            _ => None,
        })
    }

    /// All words within, as one line.
    pub(super) fn text(&self) -> String {
        let mut out = String::new();
        self.gather(&mut out);
        out.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    fn gather(&self, out: &mut String) {
        for child in &self.children {
            match child {
                Node::Text(text) => out.push_str(text),
                Node::Element(element) => element.gather(out),
                Node::Drawing(_) => {}
            }
        }
    }
}

/// Elements without content or end.
const EMPTY: [&str; 4] = ["br", "img", "meta", "link"];

/// The body of a page.
pub(super) fn body(html: &str) -> Element {
    let mut open = vec![Element::default()];
    let mut rest = html;
    while let Some(at) = rest.find('<') {
        let (text, tag) = rest.split_at(at);
        add(&mut open, Node::Text(plain(text)));
        if tag.starts_with("<svg")
            && let Some(end) = tag.find("</svg>")
        {
            let (drawing, after) = tag.split_at(end + "</svg>".len());
            add(&mut open, Node::Drawing(drawing.to_owned()));
            rest = after;
            continue;
        }
        let Some(end) = closing(tag) else { break };
        let (inner, after) = (tag.get(1..end).unwrap_or_default(), tag.get(end + 1..));
        rest = after.unwrap_or_default();
        if inner.starts_with('/') {
            if open.len() > 1
                && let Some(done) = open.pop()
            {
                add(&mut open, Node::Element(done));
            }
        } else if !inner.starts_with('!') {
            let element = start(inner);
            if EMPTY.contains(&element.name.as_str()) {
                add(&mut open, Node::Element(element));
            } else {
                open.push(element);
            }
        }
    }
    while open.len() > 1 {
        if let Some(done) = open.pop() {
            add(&mut open, Node::Element(done));
        }
    }
    let root = open.pop().unwrap_or_default();
    let html = root.elements().find(|e| e.name == "html");
    let body = html.and_then(|e| e.elements().find(|e| e.name == "body"));
    body.cloned().unwrap_or(root)
}

fn add(open: &mut [Element], node: Node) {
    let empty = matches!(&node, Node::Text(text) if text.is_empty());
    if let Some(parent) = open.last_mut().filter(|_| !empty) {
        parent.children.push(node);
    }
}

/// Where a tag ends; a `>` within quotes does not end it.
fn closing(tag: &str) -> Option<usize> {
    let mut quoted = false;
    tag.char_indices().find_map(|(i, c)| {
        quoted ^= c == '"';
        (c == '>' && !quoted).then_some(i)
    })
}

fn start(inner: &str) -> Element {
    let (name, mut rest) = inner.split_once(' ').unwrap_or((inner, ""));
    let mut attributes = Vec::new();
    while let Some((key, after)) = rest.split_once("=\"") {
        let Some((value, next)) = after.split_once('"') else {
            break;
        };
        attributes.push((key.trim().to_owned(), plain(value)));
        rest = next;
    }
    Element {
        name: name.to_owned(),
        attributes,
        children: Vec::new(),
    }
}

/// Text without its escapes.
fn plain(text: &str) -> String {
    text.replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&amp;", "&")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_page_is_read_in_one_go() {
        let page = "<p class=\"a\">word <b>two</b></p>".repeat(60_000);
        let start = std::time::Instant::now();
        assert_eq!(body(&page).children.len(), 60_000);
        // Once through takes a fraction of a second; looking ahead at each tag took minutes.
        assert!(start.elapsed().as_secs() < 30);
    }

    #[test]
    fn a_page_reads_back() {
        let page = "<!DOCTYPE html><html lang=\"en\"><head><meta charset=\"utf-8\"><style>a > b</style></head>\
            <body><p class=\"kind small\">Salt &amp; &lt;pepper&gt;<br><b>now</b> &amp;lt;</p>\
            <svg a=\"1\"><title>x</title></svg><img alt=\"a > &quot;b&quot;\" width=\"3\"></body></html>";
        let body = body(page);
        let p = body.elements().next().cloned().unwrap_or_default();
        assert!(p.is("small") && p.is("kind") && !p.is("kin"));
        assert_eq!(p.text(), "Salt & <pepper>now &lt;");
        assert_eq!(
            body.children.get(1),
            Some(&Node::Drawing(
                "<svg a=\"1\"><title>x</title></svg>".to_owned()
            ))
        );
        let img = body.elements().nth(1).cloned().unwrap_or_default();
        assert_eq!(
            (img.attribute("alt"), img.attribute("width")),
            ("a > \"b\"", "3")
        );
    }
}
