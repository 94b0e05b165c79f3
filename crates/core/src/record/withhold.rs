//! The closed list of what may be withheld. Nothing about the condition of the blade is in it.

/// Properties of one kind of object that may be withheld.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WithholdRule {
    /// JSON Pointer of the object; `*` stands for any index. Empty: the record itself.
    pub object: &'static str,
    /// Properties that may be replaced by a salted digest.
    pub properties: &'static [&'static str],
}

const PERSON: &[&str] = &["address", "contact", "name"];

macro_rules! rules {
    ($($object:literal => $properties:expr;)+) => {
        &[$(WithholdRule { object: $object, properties: $properties }),+]
    };
}

/// The closed list of schema version 1.
pub const RULES: &[WithholdRule] = rules! {
    "" => &["private_findings", "valuation"];
    "/agreement" => &["insured_value", "price_ceiling"];
    "/agreement/owner" => PERSON;
    "/blade/maker/*/author" => PERSON;
    "/blade/origin/*/author" => PERSON;
    "/blade/period/*/author" => PERSON;
    "/blade/registrations/*" => &["number"];
    "/custody/*" => &["price"];
    "/custody/*/documents/*" => &["number"];
    "/custody/*/from" => PERSON;
    "/custody/*/to" => PERSON;
    "/examination/by" => PERSON;
    "/photos/*" => &["original"];
    "/referral/to" => PERSON;
    "/tang/inscriptions/*/opinions/*/author" => PERSON;
};

/// Returns whether a JSON Pointer names a withholdable value or something inside one.
pub fn touches_withholdable(pointer: &str) -> bool {
    let parts: Vec<&str> = pointer.split('/').skip(1).collect();
    RULES.iter().any(|rule| {
        let object: Vec<&str> = rule.object.split('/').skip(1).collect();
        parts.len() > object.len()
            && object.iter().zip(&parts).all(|(pattern, part)| *pattern == "*" || pattern == part)
            && rule.properties.contains(&parts[object.len()])
            // A photo's original is private only where the photo says so; condition evidence stays public.
            && rule.object != "/photos/*"
    })
}

/// Beginning of the names of rules, derived numbers, tables and series that speak of money.
const MONEY: &str = "price.";

/// Returns whether a rule, derived number, table or series of this name speaks of money: such a finding is private, and
/// such a number, table or series is never sealed.
pub fn speaks_of_money(name: &str) -> bool {
    name.starts_with(MONEY)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prices_and_names_may_be_withheld_condition_may_not() {
        for yes in [
            "/valuation",
            "/valuation/value/amount",
            "/custody/3/price",
            "/custody/0/from/name",
            "/examination/by/contact",
        ] {
            assert!(touches_withholdable(yes), "{yes}");
        }
        for no in [
            "",
            "/flaws/0",
            "/dimensions/mass",
            "/custody/3",
            "/custody/3/when",
            "/decision",
            "/photos/0/original",
        ] {
            assert!(!touches_withholdable(no), "{no}");
        }
    }
}
