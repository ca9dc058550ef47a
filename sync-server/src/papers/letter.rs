//! A ready e-mail to the customer as an `.eml` draft (RFC 5322) that a mail program opens for
//! sending. Plain text and HTML say the same; the assessment and the register are attached.

use super::words::money;
use crate::words::count;
use lettre::Address;
use lettre::address::Envelope;
use lettre::message::header::{ContentType, Header, HeaderName, HeaderValue};
use lettre::message::{Attachment, Mailbox, Message, MultiPart, SinglePart};
use maud::html;
use scupper_core::assess::Assessment;
use scupper_core::quote::Quote;
use scupper_core::survey::Survey;
use scupper_core::survey::codes::{Certainty, Condition, Severity};
use std::error::Error;
use std::time::{Duration, SystemTime};

/// Noon on the first day of 2000, for a survey that has no day.
const NO_DAY: u64 = 946_728_000;
/// What a letter carries at most: many mail systems refuse 20 to 25 MB (common practice, no
/// source), and encoding adds a third.
const HEAVIEST: usize = 14_000_000;

/// Someone's name and address, such as `Ada Quill <ada@example.org>`.
pub type Who = Mailbox;

/// A file to attach.
#[derive(Debug, Clone)]
pub struct Enclosure {
    /// Its name.
    pub name: String,
    /// Its media type.
    pub media_type: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// Tells some mail programs to open the file for editing and sending.
#[derive(Clone)]
struct Unsent;

impl Header for Unsent {
    fn name() -> HeaderName {
        HeaderName::new_from_ascii_str("X-Unsent")
    }
    fn parse(_: &str) -> Result<Self, Box<dyn Error + Send + Sync>> {
        Ok(Self)
    }
    fn display(&self) -> HeaderValue {
        HeaderValue::new(Self::name(), "1".to_owned())
    }
}

/// The draft as bytes. Whom it goes to may be left for the mail program. What is too large for
/// mail is left out, and the letter says so.
pub fn letter_eml(
    survey: &Survey,
    assessment: &Assessment,
    quote: Option<&Quote>,
    from: Who,
    to: Option<Who>,
    mut enclosures: Vec<Enclosure>,
) -> Result<Vec<u8>, String> {
    let all = enclosures.len();
    let mut weight = 0;
    enclosures.retain(|file| {
        let fits = weight + file.bytes.len() <= HEAVIEST;
        weight += if fits { file.bytes.len() } else { 0 };
        fits
    });
    let mut text = paragraphs(survey, assessment, quote, enclosures.len() == all);
    text.extend(from.name.clone());
    let plain = text.join("\r\n\r\n") + "\r\n";
    let page = html! { html { body { @for line in &text { p { (line) } } } } };
    let id = blake3::hash(format!("{}\n{plain}", survey.survey_id).as_bytes()).to_hex();
    let id: String = id.chars().take(24).collect();
    let body = MultiPart::alternative()
        .boundary(format!("words-{id}"))
        .singlepart(SinglePart::plain(plain))
        .singlepart(SinglePart::html(page.into_string()));
    let mut whole = MultiPart::mixed()
        .boundary(format!("paper-{id}"))
        .multipart(body);
    for file in enclosures {
        let media = ContentType::parse(&file.media_type).map_err(|error| error.to_string())?;
        whole =
            whole.singlepart(Attachment::new(file.name.clone()).body(file.bytes.clone(), media));
    }
    // A draft may go without a recipient, so the envelope, which is not written, stands in.
    let nobody = Address::new("nobody", "example.invalid").map_err(|error| error.to_string())?;
    let envelope = Envelope::new(None, vec![nobody]).map_err(|error| error.to_string())?;
    let mut message = Message::builder()
        .envelope(envelope)
        .from(from)
        .subject(format!(
            "Rooftop equipment assessment: {}",
            survey.site.name
        ))
        .date(day(survey))
        .message_id(Some(format!("<{id}@survey.invalid>")))
        .header(Unsent);
    if let Some(to) = to {
        message = message.to(to);
    }
    let message = message
        .multipart(whole)
        .map_err(|error| error.to_string())?;
    Ok(message.formatted())
}

/// Noon of the day of the survey: a mail program sets the true time when it sends.
fn day(survey: &Survey) -> SystemTime {
    let noon = survey.surveyed_on.and_then(|day| day.and_hms_opt(12, 0, 0));
    let seconds = noon.and_then(|noon| u64::try_from(noon.and_utc().timestamp()).ok());
    SystemTime::UNIX_EPOCH + Duration::from_secs(seconds.unwrap_or(NO_DAY))
}

fn paragraphs(
    survey: &Survey,
    assessment: &Assessment,
    quote: Option<&Quote>,
    complete: bool,
) -> Vec<String> {
    let day = survey
        .surveyed_on
        .map(|day| format!(" on {}", day.format("%-d %B %Y")));
    let mut text = vec![
        "Hello,".to_owned(),
        format!(
            "we walked the roof of {}{} and looked over {}. {}",
            survey.site.name,
            day.unwrap_or_default(),
            count(assessment.register.len(), "unit"),
            if complete {
                "The assessment is attached."
            } else {
                "The assessment is too large for mail because of its photos and comes apart."
            },
        ),
    ];
    let pressing = assessment.findings.iter().filter(|finding| {
        finding.severity <= Severity::Urgent
            && finding.certainty != Certainty::Absent
            && finding.condition != Condition::Good
            && finding.origin.withdrawn_by.is_none()
    });
    match (pressing.count(), assessment.hazards.len()) {
        (0, 0) => {}
        (findings, hazards) => text.push(format!(
            "Please read two things first: {} to see to soon, and {} that anyone who goes up there \
             should know of.",
            count(findings, "finding"),
            count(hazards, "hazard"),
        )),
    }
    if let Some(quote) = quote.filter(|quote| quote.empty.is_none()) {
        text.push(format!(
            "For regular maintenance with {} a year we propose {} a year. What is in it, what is not, \
             and what repairs would cost apart is at the end of the assessment.",
            count(quote.visits_per_year as usize, "visit"),
            money(quote.price_cents_per_year.likely, &quote.currency),
        ));
    }
    text.push(
        "This was a survey from outside: no panel was opened, and it does not say that anything is \
         safe. Local code and licensed, qualified people decide."
            .to_owned(),
    );
    text.push("Kind regards".to_owned());
    text
}
