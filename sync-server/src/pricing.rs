//! What a survey's price goes by, and versions of it that are locked: a version keeps what went
//! in, and is worked out again when it is opened.

use crate::accounts::{Caller, Version};
use crate::error::AppError;
use crate::random;
use crate::readings::{Rates, Readings};
use crate::state::Office;
use chrono::NaiveDate;
use scupper_core::document::ChangeHash;
use scupper_core::quote::{Programme, Quote, RateBook};
use scupper_core::survey::InputError;
use std::sync::Arc;

/// A locked version, worked out again.
pub(crate) struct Reopened {
    pub(crate) version: Version,
    pub(crate) readings: Readings,
    /// Whether it still gives the figures that it was locked with.
    pub(crate) holds: bool,
}

/// BLAKE3 of a quote's figures.
fn figures(quote: &Quote) -> Result<String, AppError> {
    let text = serde_json::to_vec(quote).map_err(|e| AppError::internal("hashing a price", e))?;
    Ok(blake3::hash(&text).to_hex().to_string())
}

fn written(book: &RateBook) -> Result<String, AppError> {
    book.to_toml()
        .map_err(|e| AppError::internal("writing the rates", e))
}

impl Office {
    /// What a survey's price goes by: rates of its own, or the office's.
    pub(crate) fn rates(&self, contractor: i64, survey: &str) -> Result<Rates, AppError> {
        match self.accounts.rates(contractor, survey)? {
            None => Ok(Rates::of_office(Arc::clone(&self.book))),
            Some(text) => Rates::of_text(text, self.book.programme.clone()).map_err(|error| {
                AppError::Unusable(format!(
                    "the rates kept for this survey cannot be used ({error}); have the office's \
                     rates count again on its price page"
                ))
            }),
        }
    }

    /// Gives a survey rates of its own, or has the office's count again.
    pub(crate) fn keep_rates(
        &self,
        caller: &Caller,
        survey: &str,
        book: Option<&RateBook>,
    ) -> Result<(), AppError> {
        self.writable(caller, survey)?;
        let text = book.map(written).transpose()?;
        let at = (caller.contractor, survey);
        self.accounts
            .set_rates(self.unix(), at, &caller.name, text.as_deref())?;
        self.live.call(caller.contractor, survey);
        Ok(())
    }

    /// Locks what the price now rests on; its number.
    pub(crate) fn lock_price(
        &self,
        caller: &Caller,
        survey: &str,
        title: &str,
    ) -> Result<i64, AppError> {
        let readings = self.readings(caller, survey)?;
        let programme = readings.rates.book.programme.to_toml();
        let programme = programme.map_err(|e| AppError::internal("writing the programme", e))?;
        let version = Version {
            seq: 0,
            at: self.unix(),
            who: caller.name.clone(),
            title: title.chars().take(80).collect(),
            heads: readings.heads.clone(),
            as_of: readings.as_of.to_string(),
            book: written(&readings.rates.book)?,
            programme: Some(programme),
            figures: figures(readings.quote())?,
        };
        let at = (caller.contractor, survey);
        let seq = self.accounts.lock_version(at, &version)?;
        self.live.call(caller.contractor, survey);
        Ok(seq)
    }

    /// Works a locked version out again.
    pub(crate) fn reopen_price(
        &self,
        caller: &Caller,
        survey: &str,
        seq: i64,
    ) -> Result<Reopened, AppError> {
        const NO_VERSION: AppError = AppError::NotFound("this version of the price");
        let desk = self.readable(caller, survey)?;
        let mut all = self
            .accounts
            .versions(caller.contractor, survey)?
            .into_iter();
        let version = all.find(|version| version.seq == seq).ok_or(NO_VERSION)?;
        let heads: Option<Vec<ChangeHash>> = version
            .heads
            .split('.')
            .map(|hex| ChangeHash::from_bytes(&random::from_hex(hex)?))
            .collect();
        let day: Option<NaiveDate> = version.as_of.parse().ok();
        let (heads, day) = heads.zip(day).ok_or(NO_VERSION)?;
        let unusable = |what: &str, error: InputError| {
            AppError::Unusable(format!(
                "the {what} of this version cannot be used: {error}"
            ))
        };
        let programme = match &version.programme {
            Some(text) => Programme::from_toml(text).map_err(|e| unusable("programme", e))?,
            None => self.book.programme.clone(),
        };
        let rates = Rates::of_text(version.book.clone(), programme);
        let rates = rates.map_err(|error| unusable("rates", error))?;
        let readings = desk.as_it_stood(survey, &heads, (&rates, day))?;
        let readings = readings.ok_or(NO_VERSION)?;
        Ok(Reopened {
            holds: figures(readings.quote())? == version.figures,
            version,
            readings,
        })
    }
}
