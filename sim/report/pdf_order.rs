//! Puts a PDF in an order of its own: the same pages give the same bytes, and what is there twice is written once.
//!
//! The converter keeps fonts and resources in hash maps, so their order changes from run to run. Here every object is read, entries of dictionaries are sorted by name,
//! objects are numbered in the order in which the catalog and what it names lead to them, and equal streams without references (color profiles) become one.
//!
//! *References.* ISO 32000-1:2008, 7.2 (lexical conventions), 7.3 (objects), 7.5.4 and 7.5.5 (cross-reference table and trailer).
//!
//! *Limits.* Reads what `pdf-writer` writes: one table, generation 0, lengths of streams direct, no object streams, no encryption.

use std::collections::HashMap;
use std::io::Write as _;

/// Why a file could not be put in order.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum OrderError {
    /// It is not written as expected.
    #[error("at byte {0} the file is not what a PDF is")]
    Syntax(usize),
    /// An object is named and not there.
    #[error("object {0} is missing")]
    Missing(u32),
}

/// A value of a file.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
enum Value {
    /// Number, keyword, name, or string, as it is written.
    Plain(Vec<u8>),
    Array(Vec<Value>),
    /// Sorted by name.
    Dictionary(Vec<(Vec<u8>, Value)>),
    Reference(u32),
}

/// An object: its value and its stream.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
struct Object {
    value: Value,
    stream: Option<Vec<u8>>,
}

struct Reader<'a> {
    bytes: &'a [u8],
    at: usize,
}

type Read<T> = Result<T, OrderError>;

impl Reader<'_> {
    fn fault<T>(&self) -> Read<T> {
        Err(OrderError::Syntax(self.at))
    }

    fn skip_white(&mut self) {
        while self.bytes.get(self.at).is_some_and(u8::is_ascii_whitespace) {
            self.at += 1;
        }
    }

    /// Whether this comes next; goes past it.
    fn take(&mut self, text: &[u8]) -> bool {
        self.skip_white();
        let is_next = self.bytes[self.at.min(self.bytes.len())..].starts_with(text);
        self.at += if is_next { text.len() } else { 0 };
        is_next
    }

    fn value(&mut self) -> Read<Value> {
        if self.take(b"<<") {
            let mut entries = Vec::new();
            while !self.take(b">>") {
                let Value::Plain(name) = self.value()? else { return self.fault() };
                entries.push((name, self.value()?));
            }
            entries.sort_by(|a, b| a.0.cmp(&b.0));
            return Ok(Value::Dictionary(entries));
        }
        if self.take(b"[") {
            let mut values = Vec::new();
            while !self.take(b"]") {
                values.push(self.value()?);
            }
            return Ok(Value::Array(values));
        }
        self.skip_white();
        match self.bytes.get(self.at) {
            Some(b'(') => self.string(),
            Some(b'<') => {
                let Some(length) = self.bytes[self.at..].iter().position(|byte| *byte == b'>') else { return self.fault() };
                self.at += length + 1;
                Ok(Value::Plain(self.bytes[self.at - length - 1..self.at].to_vec()))
            }
            Some(_) => self.word_or_reference(),
            None => self.fault(),
        }
    }

    /// A string in parentheses, escapes left as they are.
    fn string(&mut self) -> Read<Value> {
        let (start, mut depth) = (self.at, 0_u32);
        while let Some(byte) = self.bytes.get(self.at) {
            self.at += 1;
            match byte {
                b'\\' => self.at += 1,
                b'(' => depth += 1,
                b')' => depth -= 1,
                _ => {}
            }
            if depth == 0 {
                return Ok(Value::Plain(self.bytes[start..self.at].to_vec()));
            }
        }
        self.fault()
    }

    fn word(&mut self) -> Read<&[u8]> {
        self.skip_white();
        let start = self.at;
        let ends = |byte: &u8| byte.is_ascii_whitespace() || b"()<>[]{}%".contains(byte);
        self.at += usize::from(self.bytes.get(start) == Some(&b'/'));
        while self.bytes.get(self.at).is_some_and(|byte| !ends(byte) && *byte != b'/') {
            self.at += 1;
        }
        if self.at == start { self.fault() } else { Ok(&self.bytes[start..self.at]) }
    }

    fn number(&mut self) -> Read<usize> {
        let at = self.at;
        let word = self.word()?;
        std::str::from_utf8(word).ok().and_then(|word| word.parse().ok()).ok_or(OrderError::Syntax(at))
    }

    fn word_or_reference(&mut self) -> Read<Value> {
        let word = self.word()?.to_vec();
        let after = self.at;
        if word.iter().all(u8::is_ascii_digit) && self.take(b"0 R") {
            let number = std::str::from_utf8(&word).ok().and_then(|word| word.parse().ok());
            return number.map(Value::Reference).ok_or(OrderError::Syntax(after));
        }
        self.at = after;
        Ok(Value::Plain(word))
    }

    /// The object that begins here, and its number.
    fn object(&mut self) -> Read<(u32, Object)> {
        let number = u32::try_from(self.number()?).map_err(|_error| OrderError::Syntax(self.at))?;
        if !self.take(b"0 obj") {
            return self.fault();
        }
        let value = self.value()?;
        if !self.take(b"stream\n") {
            return Ok((number, Object { value, stream: None }));
        }
        let length = match &value {
            Value::Dictionary(entries) => entries.iter().find(|(name, _)| name == b"/Length").map(|(_, length)| length),
            _ => None,
        };
        let Some(Value::Plain(length)) = length else { return self.fault() };
        let length = Reader { bytes: length, at: 0 }.number()?;
        let Some(stream) = self.bytes.get(self.at..self.at + length) else { return self.fault() };
        Ok((number, Object { value, stream: Some(stream.to_vec()) }))
    }
}

/// A file in an order that depends only on what is in it.
///
/// # Errors
/// [`OrderError`].
pub fn ordered(bytes: &[u8]) -> Result<Vec<u8>, OrderError> {
    let mut reader = Reader { bytes, at: 0 };
    let start = bytes.windows(9).rposition(|window| window == b"startxref").ok_or(OrderError::Syntax(bytes.len()))?;
    reader.at = start + 9;
    reader.at = reader.number()?;
    if !reader.take(b"xref") {
        return reader.fault();
    }
    let (_, count) = (reader.number()?, reader.number()?);
    let mut objects: HashMap<u32, Object> = HashMap::new();
    for _ in 0..count {
        let (at, _) = (reader.number()?, reader.number()?);
        if reader.word()? == b"n" {
            let (number, object) = Reader { bytes, at }.object()?;
            objects.insert(number, object);
        }
    }
    if !reader.take(b"trailer") {
        return reader.fault();
    }
    let Value::Dictionary(mut trailer) = reader.value()? else { return reader.fault() };
    trailer.retain(|(name, _)| name == b"/Root" || name == b"/Info");
    let mut order = Order { objects: &objects, numbers: HashMap::new(), order: Vec::new(), seen: HashMap::new() };
    let trailer = Value::Dictionary(trailer);
    order.visit(&trailer)?;
    Ok(order.write(&trailer))
}

struct Order<'a> {
    objects: &'a HashMap<u32, Object>,
    /// New number of each old one.
    numbers: HashMap<u32, u32>,
    /// In the order of their new numbers.
    order: Vec<&'a Object>,
    /// New number of every stream that names nothing else.
    seen: HashMap<&'a Object, u32>,
}

impl Order<'_> {
    /// Numbers everything that a value leads to.
    fn visit(&mut self, value: &Value) -> Read<()> {
        let mut ahead = vec![value];
        while let Some(value) = ahead.pop() {
            match value {
                Value::Plain(_) => {}
                Value::Array(values) => ahead.extend(values.iter().rev()),
                Value::Dictionary(entries) => ahead.extend(entries.iter().rev().map(|(_, value)| value)),
                Value::Reference(old) if self.numbers.contains_key(old) => {}
                Value::Reference(old) => {
                    let object = self.objects.get(old).ok_or(OrderError::Missing(*old))?;
                    let number = self.order.len() as u32 + 1;
                    let known = if object.stream.is_some() && !names_others(&object.value) {
                        Some(*self.seen.entry(object).or_insert(number))
                    } else {
                        None
                    };
                    self.numbers.insert(*old, known.unwrap_or(number));
                    if known.is_none_or(|known| known == number) {
                        self.order.push(object);
                        ahead.push(&object.value);
                    }
                }
            }
        }
        Ok(())
    }

    fn print(&self, value: &Value, out: &mut Vec<u8>) {
        match value {
            Value::Plain(text) => out.extend(text),
            Value::Reference(old) => write!(out, "{} 0 R", self.numbers[old]).expect("writing to a vector cannot fail"),
            Value::Array(values) => {
                out.push(b'[');
                for (index, value) in values.iter().enumerate() {
                    out.extend(if index == 0 { &b""[..] } else { b" " });
                    self.print(value, out);
                }
                out.push(b']');
            }
            Value::Dictionary(entries) => {
                out.extend(b"<<");
                for (name, value) in entries {
                    out.extend(b"\n");
                    out.extend(name);
                    out.push(b' ');
                    self.print(value, out);
                }
                out.extend(b"\n>>");
            }
        }
    }

    fn write(&self, trailer: &Value) -> Vec<u8> {
        let mut out = b"%PDF-1.7\n%\x80\x80\x80\x80\n\n".to_vec();
        let mut places = Vec::new();
        for (index, object) in self.order.iter().enumerate() {
            places.push(out.len());
            writeln!(out, "{} 0 obj", index + 1).expect("writing to a vector cannot fail");
            self.print(&object.value, &mut out);
            if let Some(stream) = &object.stream {
                out.extend(b"\nstream\n");
                out.extend(stream);
                out.extend(b"\nendstream");
            }
            out.extend(b"\nendobj\n\n");
        }
        let start = out.len();
        let size = places.len() + 1;
        write!(out, "xref\n0 {size}\n0000000000 65535 f\r\n").expect("writing to a vector cannot fail");
        for place in places {
            write!(out, "{place:010} 00000 n\r\n").expect("writing to a vector cannot fail");
        }
        let Value::Dictionary(entries) = trailer else { return out };
        let mut entries = entries.clone();
        entries.push((b"/Size".to_vec(), Value::Plain(size.to_string().into_bytes())));
        out.extend(b"trailer\n");
        self.print(&Value::Dictionary(entries), &mut out);
        write!(out, "\nstartxref\n{start}\n%%EOF\n").expect("writing to a vector cannot fail");
        out
    }
}

/// Whether a value leads to other objects.
fn names_others(value: &Value) -> bool {
    match value {
        Value::Plain(_) => false,
        Value::Reference(_) => true,
        Value::Array(values) => values.iter().any(names_others),
        Value::Dictionary(entries) => entries.iter().any(|(_, value)| names_others(value)),
    }
}
