//! Splits a text into numbers, words and signs. Never fails: what cannot be a number becomes
//! [`Token::BadNumber`], so that each reader can say where it stood.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::One;

use super::{ratio::power_of_ten, words};

/// A number as written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Number {
    pub(super) value: BigRational,
    /// What one step of the last digit, or of the fraction, stands for.
    pub(super) step: BigRational,
    pub(super) form: Form,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    Whole,
    Decimal,
    /// A proper fraction without its whole part; holds the denominator.
    Fraction(u32),
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Token {
    Number(Number),
    BadNumber(Fault),
    /// Lower-case, without a closing full stop.
    Word(String),
    /// A hyphen or minus sign.
    Hyphen,
    Sign(char),
}

/// Why digits are not a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Fault {
    Comma,
    Points,
    TooLong,
    Fraction,
    Numerals,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Spanned {
    pub(super) token: Token,
    /// Byte range in the text.
    pub(super) start: usize,
    pub(super) end: usize,
}

impl Spanned {
    /// The unit that the token names, if it is a word for one.
    pub(super) fn unit(&self) -> Option<&'static words::WrittenUnit> {
        match &self.token {
            Token::Word(word) => words::find(word),
            _ => None,
        }
    }

    pub(super) fn number(&self) -> Option<&Number> {
        match &self.token {
            Token::Number(number) => Some(number),
            _ => None,
        }
    }

    pub(super) fn is_sign(&self, sign: char) -> bool {
        self.token == Token::Sign(sign)
    }
}

const INTEGER_DIGITS: usize = 12;
const FRACTION_DIGITS: usize = 9;
/// Finer than any rule is divided.
const LARGEST_DENOMINATOR: u32 = 1024;
/// Digits that the numbers of a fraction need.
const FRACTION_PART_DIGITS: usize = 4;

const FRACTIONS: [(char, &str); 18] = [
    ('¼', "1/4"),
    ('½', "1/2"),
    ('¾', "3/4"),
    ('⅐', "1/7"),
    ('⅑', "1/9"),
    ('⅒', "1/10"),
    ('⅓', "1/3"),
    ('⅔', "2/3"),
    ('⅕', "1/5"),
    ('⅖', "2/5"),
    ('⅗', "3/5"),
    ('⅘', "4/5"),
    ('⅙', "1/6"),
    ('⅚', "5/6"),
    ('⅛', "1/8"),
    ('⅜', "3/8"),
    ('⅝', "5/8"),
    ('⅞', "7/8"),
];

/// A character after full-width forms, primes and the like were unified, with its byte range.
type Char = (char, usize, usize);

/// Unifies what is one sign to a reader. Not NFKC: that joins `26⅞` to `267⁄8`.
fn unify(text: &str) -> Vec<Char> {
    let mut out: Vec<Char> = Vec::with_capacity(text.len());
    for (start, c) in text.char_indices() {
        let end = start + c.len_utf8();
        if let Some((_, fraction)) = FRACTIONS.iter().find(|(sign, _)| *sign == c) {
            // Spaces keep it apart from digits on either side: `26⅞` is no 267/8, `⅞5` no 7/85.
            out.push((' ', start, start));
            out.extend(fraction.chars().map(|digit| (digit, start, end)));
            out.push((' ', end, end));
            continue;
        }
        let unified = match c {
            '\u{ff01}'..='\u{ff5e}' => char::from_u32(u32::from(c) - 0xfee0).unwrap_or(c),
            _ if c.is_whitespace() => ' ',
            '\u{2044}' => '/',
            '\u{2033}' | '\u{201d}' | '\u{201c}' => '"',
            '\u{2032}' | '\u{2019}' => '\'',
            '\u{2010}' | '\u{2011}' | '\u{2212}' => '-',
            '\u{b5}' | '\u{3bc}' => 'u',
            '\u{b2}' => '2',
            '\u{b3}' => '3',
            '\u{ba}' => '°',
            '㎜' => {
                out.push(('m', start, end));
                'm'
            }
            '㎝' => {
                out.push(('c', start, end));
                'm'
            }
            '㎏' => {
                out.push(('k', start, end));
                'g'
            }
            '\u{2103}' => {
                out.push(('°', start, end));
                'c'
            }
            _ => c,
        };
        // A raised digit belongs to a unit; after a digit it would change the number unseen.
        let raised = matches!(c, '\u{b2}' | '\u{b3}');
        let after_letter = out.last().is_some_and(|last| last.0.is_ascii_alphabetic());
        out.push((
            if raised && !after_letter { c } else { unified },
            start,
            end,
        ));
    }
    out
}

fn is_numeral(c: char) -> bool {
    matches!(
        c,
        '〇' | '零'
            | '一'
            | '二'
            | '三'
            | '四'
            | '五'
            | '六'
            | '七'
            | '八'
            | '九'
            | '十'
            | '百'
            | '千'
    )
}

/// Splits `text` into tokens.
pub(super) fn scan(text: &str) -> Vec<Spanned> {
    let chars = unify(text);
    let mut tokens = Vec::new();
    let mut at = 0;
    while let Some(&(c, start, _)) = chars.get(at) {
        let peek = |ahead: usize| chars.get(at + ahead).map_or('\0', |next| next.0);
        let (token, length) = match c {
            ' ' => {
                at += 1;
                continue;
            }
            '0'..='9' => number(&chars[at..]),
            '.' if peek(1).is_ascii_digit() => (
                Token::BadNumber(Fault::Points),
                run(&chars[at..], |c| c.is_ascii_digit() || c == '.'),
            ),
            '\'' if peek(1) == '\'' => (Token::Word("\"".into()), 2),
            '"' | '\'' | '%' => (Token::Word(c.into()), 1),
            '°' => {
                let spaces = run(&chars[at + 1..], |c| c == ' ');
                let letter = peek(1 + spaces).to_ascii_lowercase();
                let is_scale = matches!(letter, 'c' | 'f') && !peek(2 + spaces).is_alphabetic();
                if is_scale {
                    (Token::Word(format!("°{letter}")), 2 + spaces)
                } else {
                    (Token::Word("°".into()), 1)
                }
            }
            '-' => (Token::Hyphen, 1),
            _ if is_numeral(c) => {
                let length = run(&chars[at..], is_numeral);
                let numerals: Vec<char> = chars[at..at + length].iter().map(|c| c.0).collect();
                (kanji_number(&numerals), length)
            }
            '尺' | '寸' | '分' | '厘' | '匁' | '度' => (Token::Word(c.into()), 1),
            _ if c.is_alphabetic() => word(&chars[at..]),
            _ => (Token::Sign(c), 1),
        };
        at += length;
        let end = chars.get(at - 1).map_or(text.len(), |last| last.2);
        tokens.push(Spanned { token, start, end });
    }
    tokens
}

fn run(chars: &[Char], wanted: impl Fn(char) -> bool) -> usize {
    chars.iter().take_while(|c| wanted(c.0)).count()
}

fn text(chars: &[Char]) -> String {
    chars.iter().map(|c| c.0).collect()
}

fn integer(digits: &str) -> BigRational {
    digits.parse::<BigInt>().map_or_else(
        |_| BigRational::from_integer(0.into()),
        BigRational::from_integer,
    )
}

/// Reads digits with what belongs to them; returns the token and its length.
fn number(chars: &[Char]) -> (Token, usize) {
    let digit = |c: char| c.is_ascii_digit();
    let whole = run(chars, digit);
    let sign = |at: usize| chars.get(at).map_or('\0', |c| c.0);
    let digits_after = |at: usize| chars.get(at + 1..).map_or(0, |rest| run(rest, digit));
    let everything = || {
        run(chars, |c| {
            c.is_ascii_digit() || matches!(c, '.' | ',' | '/')
        })
    };
    let bad = |fault| (Token::BadNumber(fault), everything());
    let fraction = digits_after(whole);
    if whole > INTEGER_DIGITS {
        return bad(Fault::TooLong);
    }
    let written = text(&chars[..whole]);
    if fraction == 0 || !matches!(sign(whole), '.' | ',' | '/') {
        let number = Number {
            value: integer(&written),
            step: BigRational::one(),
            form: Form::Whole,
        };
        return (Token::Number(number), whole);
    }
    let end = whole + 1 + fraction;
    let tail = text(&chars[whole + 1..end]);
    let more = matches!(sign(end), '.' | ',' | '/') && digits_after(end) > 0;
    match sign(whole) {
        ',' => bad(Fault::Comma),
        '.' if more && sign(end) == ',' => bad(Fault::Comma),
        _ if more => bad(if sign(whole) == '.' {
            Fault::Points
        } else {
            Fault::Fraction
        }),
        '.' if fraction > FRACTION_DIGITS => bad(Fault::TooLong),
        '.' => {
            let step = power_of_ten(-i64::try_from(fraction).unwrap_or(0));
            let value = integer(&format!("{written}{tail}")) * &step;
            (
                Token::Number(Number {
                    value,
                    step,
                    form: Form::Decimal,
                }),
                end,
            )
        }
        _ if whole > FRACTION_PART_DIGITS || fraction > FRACTION_PART_DIGITS => {
            bad(Fault::Fraction)
        }
        _ => match (written.parse::<u32>(), tail.parse::<u32>()) {
            (Ok(above), Ok(below))
                if above > 0 && above < below && below <= LARGEST_DENOMINATOR =>
            {
                let value = BigRational::new(above.into(), below.into());
                let step = BigRational::new(1.into(), below.into());
                (
                    Token::Number(Number {
                        value,
                        step,
                        form: Form::Fraction(below),
                    }),
                    end,
                )
            }
            _ => bad(Fault::Fraction),
        },
    }
}

/// Reads kanji numerals with their places (`二十三`, `百五`). Bare rows of digits such as `二三` are
/// refused, since they also mean "two or three".
fn kanji_number(numerals: &[char]) -> Token {
    let Some(value) = kanji_value(numerals) else {
        return Token::BadNumber(Fault::Numerals);
    };
    let value = BigRational::from_integer(value.into());
    Token::Number(Number {
        value,
        step: BigRational::one(),
        form: Form::Whole,
    })
}

fn kanji_value(numerals: &[char]) -> Option<u32> {
    let digit = |c: char| {
        "一二三四五六七八九"
            .chars()
            .zip(1_u32..)
            .find_map(|(sign, value)| (sign == c).then_some(value))
    };
    if matches!(numerals, ['〇' | '零']) {
        return Some(0);
    }
    let mut rest = numerals;
    let mut total = 0;
    for (place, worth) in [('千', 1000), ('百', 100), ('十', 10)] {
        match rest {
            [head, tail @ ..] if *head == place => (total, rest) = (total + worth, tail),
            [count, head, tail @ ..] if *head == place => {
                (total, rest) = (total + digit(*count)? * worth, tail);
            }
            _ => {}
        }
    }
    match rest {
        [] => Some(total),
        [ones] => Some(total + digit(*ones)?),
        _ => None,
    }
}

/// Reads a word; `g/cm3` and `mm2` are single words, `in.` loses its full stop.
fn word(chars: &[Char]) -> (Token, usize) {
    let own = |c: char| {
        c.is_alphabetic() && !is_numeral(c) && !matches!(c, '尺' | '寸' | '分' | '厘' | '匁' | '度')
    };
    let mut length = run(chars, own);
    let next = |at: usize| chars.get(at).map_or('\0', |c| c.0);
    let mut written = text(&chars[..length]).to_lowercase();
    if next(length) == '/' && matches!(written.as_str(), "g" | "kg") {
        let below = run(&chars[length + 1..], own);
        if below > 0 {
            written.push('/');
            written.push_str(&text(&chars[length + 1..length + 1 + below]).to_lowercase());
            length += 1 + below;
        }
    }
    if written.ends_with('m') {
        let caret = usize::from(next(length) == '^');
        let power = next(length + caret);
        if matches!(power, '2' | '3') && !next(length + caret + 1).is_ascii_digit() {
            written.push(power);
            length += caret + 1;
        }
    }
    if next(length) == '.' && !next(length + 1).is_ascii_digit() {
        length += 1;
    }
    (Token::Word(written), length)
}
