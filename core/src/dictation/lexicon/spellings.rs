//! The ways in which one phrase of the lexicon may be written: "RTU" and "R T U", "isn't there" and
//! "is not there".
//!
//! Knows no meanings. Used by the lexicon only.

/// Words that are said together, or apart.
const SPELLED_OUT: [(&str, &str); 24] = [
    ("arent", "are not"),
    ("cant", "cannot"),
    ("cant", "can not"),
    ("couldnt", "could not"),
    ("didnt", "did not"),
    ("doesnt", "does not"),
    ("dont", "do not"),
    ("hadnt", "had not"),
    ("hasnt", "has not"),
    ("havent", "have not"),
    ("ill", "i will"),
    ("im", "i am"),
    ("isnt", "is not"),
    ("its", "it is"),
    ("ive", "i have"),
    ("shouldnt", "should not"),
    ("thats", "that is"),
    ("theres", "there is"),
    ("theyre", "they are"),
    ("wasnt", "was not"),
    ("werent", "were not"),
    ("weve", "we have"),
    ("wont", "will not"),
    ("wouldnt", "would not"),
];

/// Splits a phrase into words, in every way it may be written: a word in capitals is read as
/// one word and letter by letter, digits and letters part, what is said together is spelled out.
pub(super) fn spellings(phrase: &str) -> Vec<Vec<String>> {
    let mut all: Vec<Vec<String>> = vec![Vec::new()];
    let words = split_words(phrase);
    // "isn't" by itself is two words of grammar, that mean what they mean apart.
    let alone = words.len() == 1;
    for word in words {
        let capitals = word.len() > 1 && word.bytes().all(|b| b.is_ascii_uppercase());
        let lower = word.to_ascii_lowercase();
        if capitals {
            let letters: Vec<String> = lower.chars().map(String::from).collect();
            all = all
                .into_iter()
                .flat_map(|made| {
                    let whole = [made.clone(), vec![lower.clone()]].concat();
                    [whole, [made, letters.clone()].concat()]
                })
                .collect();
        } else {
            let long = SPELLED_OUT
                .iter()
                .filter(|(short, _)| *short == lower && !alone);
            let long = long.map(|(_, long)| long.split(' ').map(String::from).collect());
            let ways: Vec<Vec<String>> = [vec![lower.clone()]].into_iter().chain(long).collect();
            all = all
                .into_iter()
                .flat_map(|made| ways.iter().map(move |way| [&made[..], way].concat()))
                .collect();
        }
    }
    all
}

fn split_words(phrase: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let mut open = false;
    for c in phrase.chars() {
        if matches!(c, '\'' | '’') {
            continue;
        }
        if !c.is_ascii_alphanumeric() {
            open = false;
            continue;
        }
        let joins = words
            .last()
            .and_then(|w| w.chars().last())
            .is_some_and(|last| last.is_ascii_digit() == c.is_ascii_digit());
        if open && joins {
            if let Some(word) = words.last_mut() {
                word.push(c);
            }
        } else {
            words.push(c.to_string());
        }
        open = true;
    }
    words
}

#[cfg(test)]
mod tests {
    use super::spellings;

    #[test]
    fn a_phrase_is_written_in_every_way() {
        let ways = |phrase| -> Vec<String> {
            let ways = spellings(phrase).into_iter();
            ways.map(|words| words.join(" ")).collect()
        };
        for (phrase, wanted) in [
            ("RTU", vec!["rtu", "r t u"]),
            ("R-410A", vec!["r 410 a"]),
            ("isn't there", vec!["isnt there", "is not there"]),
            (
                "can't read",
                vec!["cant read", "cannot read", "can not read"],
            ),
            ("isnt", vec!["isnt"]),
        ] {
            assert_eq!(ways(phrase), wanted, "{phrase}");
        }
    }
}
