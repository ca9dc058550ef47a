//! The structure of the PDF for people who hear it or reflow it: headings, lists, tables, figures.
//!
//! Layout adds nodes in reading order; painting hangs the content it drew under them.

use krilla::tagging::{
    Identifier, ListNumbering, Node as TagNode, TableHeaderScope, Tag, TagGroup, TagKind, TagTree,
};
use std::num::{NonZeroU16, NonZeroU32};

/// What a node is.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Kind {
    Section,
    Paragraph,
    Heading(u16, String),
    List,
    Item,
    Label,
    Body,
    Table,
    TableHead,
    TableBody,
    Row,
    /// Heading of a column.
    Column,
    /// Heading of the rows that follow, over so many columns.
    RowGroup(u32),
    /// A cell over so many columns.
    Cell(u32),
    Figure(String),
    Caption,
}

/// A node of the tree, by its index.
pub(super) type NodeId = usize;

#[derive(Debug, Clone)]
enum Child {
    Node(NodeId),
    Content(Identifier),
}

/// The tree being built; node 0 is its root.
#[derive(Debug, Clone)]
pub(super) struct Tree {
    nodes: Vec<(Kind, Vec<Child>)>,
}

impl Tree {
    pub(super) fn new() -> Self {
        Self {
            nodes: vec![(Kind::Section, Vec::new())],
        }
    }

    /// A new last child of a node.
    pub(super) fn add(&mut self, parent: NodeId, kind: Kind) -> NodeId {
        let id = self.nodes.len();
        self.nodes.push((kind, Vec::new()));
        if let Some((_, children)) = self.nodes.get_mut(parent) {
            children.push(Child::Node(id));
        }
        id
    }

    /// Content that was drawn for a node.
    pub(super) fn drawn(&mut self, node: NodeId, content: Identifier) {
        if let Some((_, children)) = self.nodes.get_mut(node) {
            children.push(Child::Content(content));
        }
    }

    /// The finished tree; nodes without content are left out, but for cells: a row without one
    /// would be a column short.
    pub(super) fn finish(&self) -> TagTree {
        let mut tree = TagTree::new();
        for child in self.children(0) {
            tree.push(child);
        }
        tree
    }

    fn children(&self, id: NodeId) -> Vec<TagNode> {
        let Some((_, children)) = self.nodes.get(id) else {
            return Vec::new();
        };
        children
            .iter()
            .filter_map(|child| match child {
                Child::Content(content) => Some(TagNode::from(*content)),
                Child::Node(id) => self.group(*id).map(TagNode::from),
            })
            .collect()
    }

    fn group(&self, id: NodeId) -> Option<TagGroup> {
        let children = self.children(id);
        let (kind, _) = self.nodes.get(id)?;
        let cell = matches!(kind, Kind::Column | Kind::RowGroup(_) | Kind::Cell(_));
        (cell || !children.is_empty()).then(|| TagGroup::with_children(tag(kind), children))
    }
}

fn tag(kind: &Kind) -> TagKind {
    let span = |n: u32| NonZeroU32::new(n).filter(|n| n.get() > 1);
    match kind {
        Kind::Section => Tag::Section.into(),
        Kind::Paragraph => Tag::P.into(),
        Kind::Heading(level, title) => {
            let level = NonZeroU16::new(*level).unwrap_or(NonZeroU16::MIN);
            Tag::Hn(level, Some(title.clone())).into()
        }
        Kind::List => Tag::L(ListNumbering::None).into(),
        Kind::Item => Tag::LI.into(),
        Kind::Label => Tag::Lbl.into(),
        Kind::Body => Tag::LBody.into(),
        Kind::Table => Tag::Table.into(),
        Kind::TableHead => Tag::THead.into(),
        Kind::TableBody => Tag::TBody.into(),
        Kind::Row => Tag::TR.into(),
        Kind::Column => Tag::TH(TableHeaderScope::Column).into(),
        Kind::RowGroup(columns) => Tag::TH(TableHeaderScope::Row)
            .with_col_span(span(*columns))
            .into(),
        Kind::Cell(columns) => Tag::TD.with_col_span(span(*columns)).into(),
        Kind::Figure(alt) => Tag::Figure(Some(alt.clone())).into(),
        Kind::Caption => Tag::Caption.into(),
    }
}
