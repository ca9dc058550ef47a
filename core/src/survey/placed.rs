//! A JSON value that knows its place, so that a record read from it can say where it does not fit.
//!
//! All records are read through this one reader, and each of its methods accepts only what can be
//! meant: a program for a phone then holds the reader of every record once, in few words. The
//! general wrapper around a general reader, which [`super::read`] uses for text, is larger.

use serde::de::value::StrDeserializer;
use serde::de::{
    DeserializeSeed, Deserializer, EnumAccess, Error as _, IntoDeserializer, MapAccess, SeqAccess,
    Unexpected, VariantAccess, Visitor,
};
use serde::forward_to_deserialize_any;
use serde_json::{Error, Map, Value};
use std::cell::OnceCell;

/// One step from the top of the value to a part of it.
#[derive(Clone, Copy)]
enum Step<'a> {
    Top,
    Field(&'a Place<'a>, &'a str),
    Item(&'a Place<'a>, usize),
}

#[derive(Clone, Copy)]
struct Place<'a>(Step<'a>);

impl Place<'_> {
    /// Such as `equipment[3].nameplate.mca_a`; `.` at the top.
    fn path(&self) -> String {
        let mut path = String::new();
        self.write(&mut path);
        if path.is_empty() {
            ".".to_owned()
        } else {
            path
        }
    }

    fn write(&self, path: &mut String) {
        match self.0 {
            Step::Top => {}
            Step::Field(up, name) => {
                up.write(path);
                if !path.is_empty() {
                    path.push('.');
                }
                path.push_str(name);
            }
            Step::Item(up, number) => {
                up.write(path);
                path.push_str(&format!("[{number}]"));
            }
        }
    }
}

/// A part of a value, where it is, and the first place that did not fit.
#[derive(Clone, Copy)]
pub(super) struct Placed<'a, 'de> {
    value: &'de Value,
    place: Place<'a>,
    wrong: &'a OnceCell<String>,
}

impl<'a, 'de> Placed<'a, 'de> {
    pub(super) fn top(value: &'de Value, wrong: &'a OnceCell<String>) -> Self {
        let place = Place(Step::Top);
        Self {
            value,
            place,
            wrong,
        }
    }

    fn part(&'a self, step: Step<'a>, value: &'de Value) -> Self {
        Self {
            value,
            place: Place(step),
            wrong: self.wrong,
        }
    }

    /// Reads this part. If it does not fit, its place is noted unless that of a part of it is.
    fn read<T: DeserializeSeed<'de>>(self, seed: T) -> Result<T::Value, Error> {
        self.noted(seed.deserialize(self))
    }

    fn noted<T>(&self, read: Result<T, Error>) -> Result<T, Error> {
        if read.is_err() {
            self.wrong.get_or_init(|| self.place.path());
        }
        read
    }

    fn unexpected(&self) -> Unexpected<'de> {
        match self.value {
            Value::Null => Unexpected::Unit,
            Value::Bool(flag) => Unexpected::Bool(*flag),
            Value::Number(number) => match (number.as_u64(), number.as_i64()) {
                (Some(whole), _) => Unexpected::Unsigned(whole),
                (None, Some(whole)) => Unexpected::Signed(whole),
                (None, None) => Unexpected::Float(number.as_f64().unwrap_or_default()),
            },
            Value::String(text) => Unexpected::Str(text),
            Value::Array(_) => Unexpected::Seq,
            Value::Object(_) => Unexpected::Map,
        }
    }

    fn unfit<V: Visitor<'de>>(&self, visitor: &V) -> Error {
        Error::invalid_type(self.unexpected(), visitor)
    }

    fn items(&'a self, items: &'de [Value]) -> Items<'a, 'de> {
        Items {
            of: self,
            items: items.iter().enumerate(),
        }
    }

    fn fields(&'a self, fields: &'de Map<String, Value>) -> Fields<'a, 'de> {
        Fields {
            of: self,
            fields: fields.iter(),
            value: None,
        }
    }
}

impl<'de> Deserializer<'de> for Placed<'_, 'de> {
    type Error = Error;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        match self.value {
            Value::Null => visitor.visit_unit(),
            Value::Bool(flag) => visitor.visit_bool(*flag),
            Value::Number(number) => match (number.as_u64(), number.as_i64()) {
                (Some(whole), _) => visitor.visit_u64(whole),
                (None, Some(whole)) => visitor.visit_i64(whole),
                (None, None) => visitor.visit_f64(number.as_f64().unwrap_or_default()),
            },
            Value::String(text) => visitor.visit_borrowed_str(text),
            Value::Array(items) => visitor.visit_seq(self.items(items)),
            Value::Object(fields) => visitor.visit_map(self.fields(fields)),
        }
    }

    fn deserialize_map<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        let Value::Object(fields) = self.value else {
            return Err(self.unfit(&visitor));
        };
        visitor.visit_map(self.fields(fields))
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _name: &'static str,
        _fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        self.deserialize_map(visitor)
    }

    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        let Value::Array(items) = self.value else {
            return Err(self.unfit(&visitor));
        };
        let mut rest = self.items(items);
        let read = visitor.visit_seq(&mut rest)?;
        match rest.items.len() {
            0 => Ok(read),
            _ => Err(Error::invalid_length(items.len(), &"fewer elements")),
        }
    }

    fn deserialize_tuple<V: Visitor<'de>>(
        self,
        _length: usize,
        visitor: V,
    ) -> Result<V::Value, Error> {
        self.deserialize_seq(visitor)
    }

    fn deserialize_tuple_struct<V: Visitor<'de>>(
        self,
        _name: &'static str,
        _length: usize,
        visitor: V,
    ) -> Result<V::Value, Error> {
        self.deserialize_seq(visitor)
    }

    fn deserialize_str<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        let Value::String(text) = self.value else {
            return Err(self.unfit(&visitor));
        };
        visitor.visit_borrowed_str(text)
    }

    fn deserialize_string<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        self.deserialize_str(visitor)
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        match self.value {
            Value::Null => visitor.visit_none(),
            _ => visitor.visit_some(self),
        }
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _name: &'static str,
        visitor: V,
    ) -> Result<V::Value, Error> {
        visitor.visit_newtype_struct(self)
    }

    /// A name out of a fixed set, alone or with what it holds.
    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _name: &'static str,
        _variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        let (name, held) = match self.value {
            Value::String(name) => (name, None),
            Value::Object(fields) if fields.len() == 1 => {
                let Some((name, value)) = fields.iter().next() else {
                    return Err(self.unfit(&visitor));
                };
                (name, Some(self.part(Step::Field(&self.place, name), value)))
            }
            _ => return Err(self.unfit(&visitor)),
        };
        visitor.visit_enum(Named { name, held })
    }

    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 u8 u16 u32 u64 f32 f64 char bytes byte_buf unit unit_struct
        identifier ignored_any
    }
}

struct Items<'a, 'de> {
    of: &'a Placed<'a, 'de>,
    items: std::iter::Enumerate<std::slice::Iter<'de, Value>>,
}

impl<'de> SeqAccess<'de> for Items<'_, 'de> {
    type Error = Error;

    fn next_element_seed<T: DeserializeSeed<'de>>(
        &mut self,
        seed: T,
    ) -> Result<Option<T::Value>, Error> {
        let Some((number, value)) = self.items.next() else {
            return Ok(None);
        };
        let step = Step::Item(&self.of.place, number);
        self.of.part(step, value).read(seed).map(Some)
    }

    fn size_hint(&self) -> Option<usize> {
        Some(self.items.len())
    }
}

struct Fields<'a, 'de> {
    of: &'a Placed<'a, 'de>,
    fields: serde_json::map::Iter<'de>,
    value: Option<(&'de str, &'de Value)>,
}

impl<'de> MapAccess<'de> for Fields<'_, 'de> {
    type Error = Error;

    fn next_key_seed<K: DeserializeSeed<'de>>(
        &mut self,
        seed: K,
    ) -> Result<Option<K::Value>, Error> {
        let Some((name, value)) = self.fields.next() else {
            return Ok(None);
        };
        self.value = Some((name, value));
        let name: StrDeserializer<'_, Error> = name.as_str().into_deserializer();
        seed.deserialize(name).map(Some)
    }

    fn next_value_seed<T: DeserializeSeed<'de>>(&mut self, seed: T) -> Result<T::Value, Error> {
        let Some((name, value)) = self.value.take() else {
            return Err(Error::custom("a value was asked for before its name"));
        };
        let step = Step::Field(&self.of.place, name);
        self.of.part(step, value).read(seed)
    }
}

struct Named<'a, 'de> {
    name: &'de str,
    held: Option<Placed<'a, 'de>>,
}

impl<'a, 'de> Named<'a, 'de> {
    fn held(self) -> Result<Placed<'a, 'de>, Error> {
        let held = self.held;
        held.ok_or_else(|| Error::custom(format!("`{}` needs a value", self.name)))
    }
}

impl<'de> EnumAccess<'de> for Named<'_, 'de> {
    type Error = Error;
    type Variant = Self;

    fn variant_seed<V: DeserializeSeed<'de>>(self, seed: V) -> Result<(V::Value, Self), Error> {
        let name: StrDeserializer<'_, Error> = self.name.into_deserializer();
        Ok((seed.deserialize(name)?, self))
    }
}

impl<'de> VariantAccess<'de> for Named<'_, 'de> {
    type Error = Error;

    fn unit_variant(self) -> Result<(), Error> {
        match self.held {
            None => Ok(()),
            Some(held) => Err(Error::invalid_type(held.unexpected(), &"only a name")),
        }
    }

    fn newtype_variant_seed<T: DeserializeSeed<'de>>(self, seed: T) -> Result<T::Value, Error> {
        self.held()?.read(seed)
    }

    fn tuple_variant<V: Visitor<'de>>(self, _length: usize, visitor: V) -> Result<V::Value, Error> {
        let held = self.held()?;
        held.noted(held.deserialize_seq(visitor))
    }

    fn struct_variant<V: Visitor<'de>>(
        self,
        _fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        let held = self.held()?;
        held.noted(held.deserialize_map(visitor))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use crate::survey::read::from_value;
    use serde::Deserialize;
    use serde::de::DeserializeOwned;
    use serde_json::json;
    use std::collections::BTreeMap;
    use std::fmt::Debug;

    #[derive(Debug, PartialEq, Deserialize)]
    struct Day {
        name: String,
        #[serde(default)]
        spans: Vec<[f32; 2]>,
        mood: Option<Mood>,
        #[serde(flatten)]
        whose: Whose,
    }

    #[derive(Debug, PartialEq, Deserialize)]
    struct Whose {
        author: Option<String>,
    }

    #[derive(Debug, PartialEq, Deserialize)]
    #[serde(rename_all = "snake_case")]
    enum Mood {
        Fine,
        Wet(u8),
        Windy { from: String },
        Mixed(u8, i8),
    }

    /// As the general reader reads it.
    #[track_caller]
    fn same<T: DeserializeOwned + Debug + PartialEq>(value: serde_json::Value) {
        let expected: T = serde_json::from_value(value.clone()).unwrap();
        assert_eq!(from_value::<T>(&value).unwrap(), expected);
    }

    #[test]
    fn what_fits_is_read_as_the_general_reader_reads_it() {
        for mood in [
            json!("fine"),
            json!({"wet": 3}),
            json!({"windy": {"from": "W"}}),
            json!({"mixed": [1, -1]}),
            json!(null),
        ] {
            let spans = json!([[1, 2.5], [-3, 4]]);
            same::<Day>(
                json!({"name": "x", "mood": mood, "spans": spans, "author": "ana", "more": [{}]}),
            );
        }
        same::<BTreeMap<String, Option<i64>>>(json!({"a": 1, "b": null, "c": -7}));
        same::<(bool, char, f64, u64)>(json!([true, "c", 5, u64::MAX]));
        same::<serde_json::Value>(json!({"a": [1, -1, 0.5, "b", null, true]}));
    }

    #[test]
    fn what_does_not_fit_is_named_by_its_place() {
        for (value, place, problem) in [
            (
                json!({"name": 5}),
                "name",
                "invalid type: integer `5`, expected a string",
            ),
            (
                json!({"name": null}),
                "name",
                "invalid type: null, expected a string",
            ),
            (
                json!({"name": "x", "spans": [[1, 2], [1, "b"]]}),
                "spans[1][1]",
                "expected f32",
            ),
            (
                json!({"name": "x", "spans": [[1]]}),
                "spans[0]",
                "invalid length 1",
            ),
            (
                json!({"name": "x", "spans": [[1, 2, 3]]}),
                "spans[0]",
                "fewer elements",
            ),
            (
                json!({"name": "x", "spans": {}}),
                "spans",
                "expected a sequence",
            ),
            (
                json!({"name": "x", "mood": "grim"}),
                "mood",
                "unknown variant `grim`",
            ),
            (
                json!({"name": "x", "mood": {"wet": 300}}),
                "mood.wet",
                "expected u8",
            ),
            (
                json!({"name": "x", "mood": {"windy": {}}}),
                "mood.windy",
                "missing field `from`",
            ),
            (
                json!({"name": "x", "mood": {"fine": 1}}),
                "mood",
                "only a name",
            ),
            (
                json!({"name": "x", "mood": "wet"}),
                "mood",
                "`wet` needs a value",
            ),
            (
                json!({"name": "x", "mood": {}}),
                "mood",
                "invalid type: map",
            ),
            (json!({"spans": []}), ".", "missing field `name`"),
            (json!([]), ".", "invalid type: sequence"),
        ] {
            let error = from_value::<Day>(&value).unwrap_err();
            assert_eq!(error.place, place, "{error}");
            assert!(error.problem.contains(problem), "{error}");
        }
    }
}
