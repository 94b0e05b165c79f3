//! The structure tree: what the marks mean and in which order they are read.
//!
//! Source: ISO 32000-1, 14.7 and 14.8.

use lopdf::{Dictionary, Document, Object, ObjectId, dictionary};

use super::{PdfError, content, text_string};
use crate::scene::{Child, Node, NodeId, Role, Scene};

/// Objects of the structure tree that other parts need.
pub(super) struct Tree {
    /// The structure tree root.
    pub(super) root: ObjectId,
    /// One structure element for each node of the scene.
    pub(super) elements: Vec<ObjectId>,
    /// Number under which the signature's widget is found in the parent tree.
    pub(super) widget_key: i64,
}

/// Adds the structure tree to the document.
pub(super) fn add(
    document: &mut Document,
    scene: &Scene,
    pages: &[ObjectId],
    marks: &[Vec<(NodeId, usize)>],
) -> Result<Tree, PdfError> {
    let root = document.new_object_id();
    let whole = document.new_object_id();
    let elements: Vec<ObjectId> = scene
        .nodes
        .iter()
        .map(|_| document.new_object_id())
        .collect();
    let widget_key = number(pages.len());
    let builder = Builder {
        scene,
        pages,
        marks,
        elements: &elements,
        whole,
    };

    let mut parent_tree = Vec::new();
    for (index, (page, page_marks)) in pages.iter().zip(marks).enumerate() {
        let parents: Vec<Object> = page_marks
            .iter()
            .filter_map(|(node, _)| elements.get(node.0))
            .map(|id| Object::Reference(*id))
            .collect();
        let parents = document.add_object(parents);
        parent_tree.extend([Object::Integer(number(index)), Object::Reference(parents)]);
        let page = document.get_object_mut(*page)?.as_dict_mut()?;
        page.set("StructParents", number(index));
        page.set("Tabs", "S");
    }
    if let Some(form) = scene
        .signature
        .as_ref()
        .and_then(|field| elements.get(field.node.0))
    {
        parent_tree.extend([Object::Integer(widget_key), Object::Reference(*form)]);
    }
    for (index, node) in scene.nodes.iter().enumerate() {
        let element = builder.element(NodeId(index), node)?;
        document.set_object(
            *elements
                .get(index)
                .ok_or(PdfError::Shape("a structure element"))?,
            element,
        );
    }
    let top: Vec<Object> = scene
        .roots
        .iter()
        .filter_map(|id| elements.get(id.0))
        .map(|id| Object::Reference(*id))
        .collect();
    document.set_object(
        whole,
        dictionary! { "Type" => "StructElem", "S" => "Document", "P" => root, "K" => top },
    );
    let parent_tree = document.add_object(dictionary! { "Nums" => parent_tree });
    document.set_object(
        root,
        dictionary! { "Type" => "StructTreeRoot", "K" => whole, "ParentTree" => parent_tree, "ParentTreeNextKey" => widget_key + 1 },
    );
    Ok(Tree {
        root,
        elements,
        widget_key,
    })
}

struct Builder<'a> {
    scene: &'a Scene,
    pages: &'a [ObjectId],
    marks: &'a [Vec<(NodeId, usize)>],
    elements: &'a [ObjectId],
    whole: ObjectId,
}

impl Builder<'_> {
    fn element(&self, id: NodeId, node: &Node) -> Result<Dictionary, PdfError> {
        let parent = node
            .parent
            .and_then(|parent| self.elements.get(parent.0))
            .copied()
            .unwrap_or(self.whole);
        let first_page = node.children.iter().find_map(|child| {
            if let Child::Marks(page, _) = child {
                Some(*page)
            } else {
                None
            }
        });
        let mut children = Vec::new();
        for child in &node.children {
            children.push(match child {
                Child::Node(child) => Object::Reference(
                    *self
                        .elements
                        .get(child.0)
                        .ok_or(PdfError::Shape("a structure element"))?,
                ),
                Child::Marks(page, group) => self.content(id, *page, *group, first_page)?,
            });
        }
        let mut element = dictionary! { "Type" => "StructElem", "S" => content::tag(node.role), "P" => parent, "K" => children };
        if let Some(page) = first_page.and_then(|page| self.pages.get(page)) {
            element.set("Pg", *page);
        }
        if let Some(alternative) = &node.alternative {
            element.set("Alt", text_string(alternative));
        }
        if let Some(language) = node.language {
            element.set("Lang", text_string(language.tag()));
        }
        if let Some(attributes) = self.attributes(node, first_page) {
            element.set("A", attributes);
        }
        Ok(element)
    }

    /// Marks as a number, or with their page where it differs from the element's.
    fn content(
        &self,
        id: NodeId,
        page: usize,
        group: usize,
        element_page: Option<usize>,
    ) -> Result<Object, PdfError> {
        let found = self
            .marks
            .get(page)
            .and_then(|marks| marks.iter().position(|mark| *mark == (id, group)));
        let mark = number(found.ok_or(PdfError::Shape("marked content"))?);
        if element_page == Some(page) {
            return Ok(Object::Integer(mark));
        }
        let page = *self.pages.get(page).ok_or(PdfError::Shape("a page"))?;
        Ok(Object::Dictionary(
            dictionary! { "Type" => "MCR", "Pg" => page, "MCID" => mark },
        ))
    }

    fn attributes(&self, node: &Node, page: Option<usize>) -> Option<Dictionary> {
        let mut attributes = match node.role {
            Role::ColumnHeader => dictionary! { "O" => "Table", "Scope" => "Column" },
            Role::RowHeader => dictionary! { "O" => "Table", "Scope" => "Row" },
            Role::List => dictionary! { "O" => "List", "ListNumbering" => "Disc" },
            Role::Figure => dictionary! { "O" => "Layout", "Placement" => "Block" },
            _ => return None,
        };
        if let (Some([x, y, width, height]), Some(page)) = (
            node.bounds,
            page.and_then(|page| self.scene.pages.get(page)),
        ) {
            attributes.set("BBox", rectangle(page.height, [x, y, width, height]));
        }
        Some(attributes)
    }
}

/// A box of the scene (mm, y down) as a PDF rectangle (points, y up).
pub(super) fn rectangle(page_height: f64, [x, y, width, height]: [f64; 4]) -> Vec<Object> {
    [x, page_height - y - height, x + width, page_height - y]
        .map(|mm| Object::Real(content::narrow(mm / crate::font::MM_PER_POINT)))
        .to_vec()
}

/// A count as PDF integer.
fn number(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}
