//! The server as a process: what it prints, how it stops, and what the command line refuses.

use super::command::scupper;
use super::server_kit::{Server, Stand, admit, device, exchange, level, photo, send_next, take};
use scupper_server::client::Client;
use std::io::{BufRead, BufReader, Write};
use std::net::TcpStream;
use std::process::Command;
use std::time::Duration;

/// Well under the ten seconds that open requests may take.
const AT_ONCE: Duration = Duration::from_secs(5);

#[test]
fn the_printed_link_opens_the_office_once_and_nothing_else_does() {
    let data = tempfile::tempdir().unwrap();
    let server = Server::start(data.path());
    assert!(server.get("/healthz", "").starts_with("HTTP/1.1 200"));
    assert!(server.get("/", "").contains("location: /sign-in"));
    assert!(server.get("/v1/surveys", "").starts_with("HTTP/1.1 401"));
    let cookie = server.sign_in();
    let list = server.get("/", &cookie);
    assert!(list.contains("No survey has come in yet"), "{list}");
    let path = server.link.strip_prefix(&server.base).unwrap();
    assert!(server.get(path, "").starts_with("HTTP/1.1 401"));
    assert!(server.stop() < AT_ONCE);
}

#[test]
fn an_open_stream_of_news_does_not_hold_up_the_stop() {
    let stand = Stand::new();
    let server = &stand.server;
    let cookie = server.sign_in();
    let mut day = stand.day(1);
    let survey = day.create_survey("Ovens and Ice").unwrap();
    level(&mut day, &stand.client, &survey).unwrap();
    // The stream is open, and says where the survey stands.
    let mut socket = TcpStream::connect(server.address()).unwrap();
    let host = server.address();
    write!(
        socket,
        "GET /v1/surveys/{survey}/events HTTP/1.1\r\nhost: {host}\r\n{cookie}\r\n"
    )
    .unwrap();
    socket.set_read_timeout(Some(AT_ONCE)).unwrap();
    let mut lines = BufReader::new(socket).lines().map_while(Result::ok);
    assert!(lines.next().unwrap().starts_with("HTTP/1.1 200"));
    let told = lines.find(|line| line.starts_with("data:"));
    assert!(told.is_some(), "the stream says nothing");
    assert!(stand.server.stop() < AT_ONCE);
}

#[test]
fn the_log_may_be_json_one_object_a_line() {
    let data = tempfile::tempdir().unwrap();
    let log = data.path().join("log");
    let mut command = Command::new(env!("CARGO_BIN_EXE_scupper-here"));
    command
        .args(["serve", "--listen", "127.0.0.1:0", "--log-json", "--data"])
        .arg(data.path())
        .args(["--trusted-proxy", "127.0.0.1", "--trusted-proxy", "::1"])
        .env("SCUPPER_LOG", "info,tower_http=debug")
        .stderr(std::fs::File::create(&log).unwrap());
    let server = Server::spawn(command);
    server.get("/v1/surveys", "");
    server.stop();
    let log = std::fs::read_to_string(log).unwrap();
    let lines = log.lines().filter(|line| !line.starts_with("scupper: "));
    let lines: Vec<serde_json::Value> = lines
        .map(|line| serde_json::from_str(line).unwrap_or_else(|e| panic!("{e}: {line}")))
        .collect();
    let asked = lines
        .iter()
        .find(|line| line["span"]["route"] == "/v1/surveys");
    assert!(
        asked.is_some_and(|line| line["level"] == "DEBUG" && line["timestamp"].is_string()),
        "{log}"
    );
}

#[test]
fn no_secret_is_ever_logged() {
    let data = tempfile::tempdir().unwrap();
    let home = tempfile::tempdir().unwrap();
    let folder = data.path().to_str().unwrap();
    let log = home.path().join("log");
    let to = std::fs::File::create(&log).unwrap().into();
    let server = Server::start_logged(data.path(), &[("SCUPPER_LOG", "trace")], to);
    let code = admit(data.path(), "tech-1");
    let (mut client, _) = Client::enrol(&server.base, &code, "phone-a", "phone").unwrap();
    let mut day = device(home.path(), "phone-a", "tech-1", 1);
    let survey = day.create_survey("Ovens and Ice").unwrap();
    take(&mut day, &survey, &photo("", 0));
    level(&mut day, &client, &survey).unwrap();
    while send_next(&mut day, &client).unwrap().is_some() {}
    let cookie = server.sign_in();
    let page = server.get(&format!("/surveys/{survey}"), &cookie);
    let (_, key) = page.split_once(r#"name="csrf" value=""#).unwrap();
    let key = key.split('"').next().unwrap();
    let made = server.post(
        &format!("/surveys/{survey}/links"),
        &cookie,
        &format!("csrf={key}"),
    );
    let (_, link) = made.split_once("/shared/").unwrap();
    let link = link.split(['<', '"']).next().unwrap();
    assert!(
        server
            .get(&format!("/shared/{link}"), "")
            .starts_with("HTTP/1.1 303")
    );
    let guess = "firm=office&name=reviewer&password=gulls+over+wet+gravel";
    assert!(
        server
            .post("/sign-in", "", guess)
            .starts_with("HTTP/1.1 401")
    );
    let token = client.token().to_owned();
    let fresh = client.rotate().unwrap();
    let signed_in = server.link.rsplit('/').next().unwrap().to_owned();
    server.stop();
    let log = std::fs::read_to_string(log).unwrap();
    assert!(log.contains("/v1/surveys/{id}/exchange"), "{log}");
    let session = cookie.split_once('=').unwrap().1.trim();
    for (what, secret) in [
        ("code", code.as_str()),
        ("token", &token),
        ("fresh token", fresh),
        ("session", session),
        ("sign-in link", &signed_in),
        ("form key", key),
        ("customer's link", link),
        ("password", "gulls"),
        ("what was written", "Ovens and Ice"),
    ] {
        assert!(secret.len() > 4, "no {what}");
        assert!(!log.contains(secret), "the {what} is in the log");
    }
    // Who did what is told by the audit log, without the secrets as well.
    let told = super::command::answer(&["audit", "--data", folder]);
    assert!(told.contains("enrolled") && !told.contains(link), "{told}");
}

#[test]
fn a_second_server_on_the_same_data_and_an_open_door_are_refused() {
    let stand = Stand::new();
    let (client, server, folder) = (&stand.client, &stand.server, stand.folder());
    assert_eq!(client.get("/v1/surveys").unwrap(), b"[]");
    let second = scupper(&["serve", "--data", folder, "--listen", "127.0.0.1:0"]);
    let complaint = String::from_utf8(second.stderr).unwrap();
    assert!(!second.status.success(), "{complaint}");
    assert!(complaint.contains("another process"), "{complaint}");
    assert!(complaint.contains(folder), "{complaint}");
    // The first goes on.
    assert_eq!(client.get("/v1/surveys").unwrap(), b"[]");

    let taken = scupper(&["serve", "--data", folder, "--listen", server.address()]);
    assert!(!taken.status.success());
    let open = scupper(&["serve", "--data", folder, "--listen", "0.0.0.0:0"]);
    assert_eq!(open.status.code(), Some(2));
    let complaint = String::from_utf8(open.stderr).unwrap();
    assert!(complaint.contains("--public-url"), "{complaint}");
}

#[test]
fn a_reviewers_password_and_a_guests_limit_are_set_beside_the_running_server() {
    use std::process::{Command, Stdio};
    let data = tempfile::tempdir().unwrap();
    let folder = data.path().to_str().unwrap();
    let server = Server::start(data.path());
    let password = |name: &str, text: &str| {
        let mut child = Command::new(env!("CARGO_BIN_EXE_scupper-here"))
            .args(["password", name, "--data", folder])
            .stdin(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut stdin = child.stdin.take().unwrap();
        writeln!(stdin, "{text}").unwrap();
        drop(stdin);
        child.wait().unwrap().code()
    };
    // `reviewer` is who the printed link is for.
    assert_eq!(password("reviewer", "short"), Some(2));
    assert_eq!(password("nobody", "gulls over wet gravel"), Some(2));
    assert_eq!(password("reviewer", "gulls over wet gravel"), Some(0));
    let form = "firm=office&name=reviewer&password=gulls+over+wet+gravel";
    let opened = server.post("/sign-in", "", form);
    assert!(opened.starts_with("HTTP/1.1 303"), "{opened}");
    assert!(opened.contains("set-cookie: scupper_session="), "{opened}");
    let wrong = server.post("/sign-in", "", &form.replace("wet", "dry"));
    assert!(wrong.starts_with("HTTP/1.1 401"), "{wrong}");

    let words = [
        "admit",
        "technician",
        "sub-1",
        "--survey",
        "s-1",
        "--qr",
        "https://office.example",
        "--data",
        folder,
    ];
    let said = super::command::answer(&words);
    let mut lines = said.lines();
    let code = lines.next().unwrap();
    let read = scupper_core::capture::Invitation::read(lines.next().unwrap()).unwrap();
    assert_eq!(
        (read.server.as_str(), read.code.as_str()),
        ("https://office.example", code)
    );
    assert!(
        lines.filter(|line| line.contains('█')).count() > 10,
        "{said}"
    );
    let (client, _) = Client::enrol(&server.base, code, "phone-g", "phone").unwrap();
    let home = tempfile::tempdir().unwrap();
    let mut day = device(home.path(), "phone-g", "sub-1", 1);
    let own = day.create_survey("Not asked for").unwrap();
    let refused = exchange(&mut day, &client, &own).unwrap_err();
    assert!(refused.to_string().contains("404"), "{refused}");
    day.join_survey("s-1").unwrap();
    level(&mut day, &client, "s-1").unwrap();
    super::command::answer(&["limit", "sub-1", "--all", "--data", folder]);
    level(&mut day, &client, &own).unwrap();
}
