//! The structure tree, read once.

use std::collections::{BTreeMap, BTreeSet};

use lopdf::{Dictionary, Document, Object, ObjectId};

use super::facts::{dictionary_of, follow, nothing, pairs, text};

/// What lies in an element.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kid {
    /// Another element, by its place in [`Tree::elements`].
    Element(usize),
    /// Marked content: page index, number.
    Content(Option<usize>, i64),
    /// An annotation.
    Object(ObjectId),
}

/// A structure element.
#[derive(Debug)]
pub(super) struct Element {
    pub(super) id: ObjectId,
    /// Structure type as it stands.
    pub(super) role: String,
    /// The element it lies in; none for the top.
    pub(super) parent: Option<usize>,
    pub(super) kids: Vec<Kid>,
}

/// All elements in reading order, each before what lies in it.
#[derive(Debug, Default)]
pub(super) struct Tree {
    pub(super) root: Option<ObjectId>,
    pub(super) elements: Vec<Element>,
    /// Elements that are reached twice.
    pub(super) twice: Vec<u32>,
    /// Kids that are nothing of the standard.
    pub(super) strange: Vec<String>,
    /// Number of the parent tree: what it names.
    pub(super) parents: BTreeMap<i64, Object>,
}

impl Tree {
    pub(super) fn read(document: &Document, pages: &[ObjectId]) -> Self {
        let mut tree = Self::default();
        let Ok(catalog) = document.catalog() else {
            return tree;
        };
        let Ok(root) = catalog
            .get(b"StructTreeRoot")
            .and_then(Object::as_reference)
        else {
            return tree;
        };
        tree.root = Some(root);
        let top = document.get_dictionary(root).unwrap_or(nothing());
        let mut seen = BTreeSet::new();
        for kid in kids(document, top) {
            if let Ok(id) = kid.as_reference() {
                tree.visit(document, pages, id, None, &mut seen);
            }
        }
        if let Some(parents) = top
            .get(b"ParentTree")
            .ok()
            .and_then(|object| dictionary_of(follow(document, object)))
        {
            for (number, object) in pairs(document, parents, b"Nums") {
                if let Ok(number) = number.as_i64() {
                    tree.parents.insert(number, object.clone());
                }
            }
        }
        tree
    }

    fn visit(
        &mut self,
        document: &Document,
        pages: &[ObjectId],
        id: ObjectId,
        parent: Option<usize>,
        seen: &mut BTreeSet<ObjectId>,
    ) -> Option<usize> {
        if !seen.insert(id) {
            self.twice.push(id.0);
            return None;
        }
        let element = document.get_dictionary(id).unwrap_or(nothing());
        let own_page = page_of(element, pages);
        let place = self.elements.len();
        self.elements.push(Element {
            id,
            role: element
                .get(b"S")
                .and_then(Object::as_name)
                .map(text)
                .unwrap_or_default(),
            parent,
            kids: Vec::new(),
        });
        let mut found = Vec::new();
        for kid in kids(document, element) {
            match kid {
                Object::Integer(number) => found.push(Kid::Content(own_page, *number)),
                Object::Dictionary(inner) => match inner.get(b"Type").and_then(Object::as_name) {
                    Ok(b"MCR") => {
                        let number = inner.get(b"MCID").and_then(Object::as_i64).unwrap_or(-1);
                        let page = page_of(inner, pages).or(own_page);
                        found.push(Kid::Content(page, number));
                    }
                    Ok(b"OBJR") => {
                        let object = inner.get(b"Obj").and_then(Object::as_reference);
                        found.push(Kid::Object(object.unwrap_or((0, 0))));
                    }
                    _ => self.strange.push(format!("object {}", id.0)),
                },
                Object::Reference(kid) => {
                    found.extend(
                        self.visit(document, pages, *kid, Some(place), seen)
                            .map(Kid::Element),
                    );
                }
                _ => self.strange.push(format!("object {}", id.0)),
            }
        }
        if let Some(element) = self.elements.get_mut(place) {
            element.kids = found;
        }
        Some(place)
    }

    /// The elements that lie directly in one.
    pub(super) fn inside<'t>(&'t self, element: &'t Element) -> impl Iterator<Item = &'t Element> {
        element.kids.iter().filter_map(|kid| match kid {
            Kid::Element(place) => self.elements.get(*place),
            _ => None,
        })
    }

    /// An element and all it lies in, from the inside.
    pub(super) fn around(&self, place: usize) -> impl Iterator<Item = &Element> {
        let mut next = Some(place);
        std::iter::from_fn(move || {
            let element = self.elements.get(next?)?;
            next = element.parent;
            Some(element)
        })
    }

    /// Which element each piece of marked content belongs to: page index, number → places in [`Tree::elements`].
    pub(super) fn owners(&self) -> BTreeMap<(usize, i64), Vec<usize>> {
        let mut owners: BTreeMap<_, Vec<usize>> = BTreeMap::new();
        for (place, element) in self.elements.iter().enumerate() {
            for kid in &element.kids {
                if let Kid::Content(Some(page), number) = kid {
                    owners.entry((*page, *number)).or_default().push(place);
                }
            }
        }
        owners
    }
}

fn kids<'d>(document: &'d Document, element: &'d Dictionary) -> Vec<&'d Object> {
    let Ok(kids) = element.get(b"K") else {
        return Vec::new();
    };
    let list = match kids {
        Object::Reference(_) => follow(document, kids),
        other => other,
    };
    match list {
        Object::Array(items) => items.iter().collect(),
        Object::Dictionary(_) if kids.as_reference().is_ok() => vec![kids],
        other => vec![other],
    }
}

fn page_of(dictionary: &Dictionary, pages: &[ObjectId]) -> Option<usize> {
    let page = dictionary.get(b"Pg").and_then(Object::as_reference).ok()?;
    pages.iter().position(|known| *known == page)
}
