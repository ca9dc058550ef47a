//! The office side of a survey: exchange, photo upload, review page, papers.

pub mod papers;
