//! The description of the interface, as OpenAPI 3.1: `GET /v1/openapi.json`.
//!
//! Routes and their description are one declaration each (`routes!`), so neither can be without
//! the other. Of a survey, an assessment and a quote the top is described, what is inside by the
//! documents that `info.description` names; messages of an exchange are bytes here.

use crate::error::Problem;
use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme};
use utoipa::{IntoResponses, Modify, OpenApi, ToSchema};

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Scupper office",
        description = "What devices and office programs ask of the server. Exchange messages and \
                       uploads: docs/protocol.md. Surveys: docs/document.md. Limits and refusals: \
                       docs/security.md."
    ),
    components(schemas(Problem)),
    modifiers(&Token)
)]
pub(super) struct Description;

/// Bytes as they are.
#[derive(ToSchema)]
#[schema(value_type = String, format = Binary)]
#[allow(dead_code, reason = "only described")]
pub(super) struct Raw(Vec<u8>);

/// Which file of a photo.
#[derive(ToSchema)]
#[schema(rename_all = "snake_case")]
#[allow(dead_code, reason = "only described")]
pub(super) enum PartName {
    Thumbnail,
    Original,
}

/// A device's bearer token.
struct Token;

impl Modify for Token {
    fn modify(&self, openapi: &mut utoipa::openapi::OpenApi) {
        let bearer = HttpBuilder::new().scheme(HttpAuthScheme::Bearer).build();
        if let Some(components) = openapi.components.as_mut() {
            components.add_security_scheme("device", SecurityScheme::Http(bearer));
        }
    }
}

/// How a reader may be refused.
#[derive(IntoResponses)]
#[allow(dead_code, reason = "only described")]
pub(super) enum NotRead {
    /// An id or header makes no sense.
    #[response(status = 400, content_type = "application/problem+json")]
    Input(#[to_schema] Problem<'static>),
    /// No token, or one that is not good any more.
    #[response(status = 401, content_type = "application/problem+json")]
    Unauthorized(#[to_schema] Problem<'static>),
    /// Known, but not allowed.
    #[response(status = 403, content_type = "application/problem+json")]
    Forbidden(#[to_schema] Problem<'static>),
    /// Not there, or not for this caller to know of.
    #[response(status = 404, content_type = "application/problem+json")]
    NotFound(#[to_schema] Problem<'static>),
    /// Too many requests; `Retry-After` tells for how long.
    #[response(status = 429, content_type = "application/problem+json")]
    TooMany(#[to_schema] Problem<'static>),
}

/// How a writer may be refused, besides.
#[derive(IntoResponses)]
#[allow(dead_code, reason = "only described")]
pub(super) enum NotTaken {
    /// The state is not what the caller believed; headers tell the true one.
    #[response(status = 409, content_type = "application/problem+json")]
    Conflict(#[to_schema] Problem<'static>),
    /// More bytes than allowed.
    #[response(status = 413, content_type = "application/problem+json")]
    TooLarge(#[to_schema] Problem<'static>),
    /// Readable, but cannot be used.
    #[response(status = 422, content_type = "application/problem+json")]
    Unusable(#[to_schema] Problem<'static>),
    /// The disk or the quota is full.
    #[response(status = 507, content_type = "application/problem+json")]
    Full(#[to_schema] Problem<'static>),
}
