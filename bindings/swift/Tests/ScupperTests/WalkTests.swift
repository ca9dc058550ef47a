// The walk over the exemplar's roof, as the Python and Kotlin tests make it.
// NOT RUN here: it needs a Mac. `bindings/swift/README.md` says how.
import Foundation
import XCTest

@testable import Scupper

final class WalkTests: XCTestCase {
    private var folder: URL!
    private let ana = Identity(deviceId: "phone-1", author: "ana")

    private static let root = URL(fileURLWithPath: #filePath)
        .deletingLastPathComponent().deletingLastPathComponent().deletingLastPathComponent()
        .deletingLastPathComponent().deletingLastPathComponent()
    private static let exemplar = root.appendingPathComponent("fixtures/exemplar")

    override func setUpWithError() throws {
        folder = FileManager.default.temporaryDirectory.appendingPathComponent(UUID().uuidString)
    }

    override func tearDownWithError() throws {
        try FileManager.default.removeItem(at: folder)
    }

    private func text(_ name: String) throws -> String {
        try String(contentsOf: Self.exemplar.appendingPathComponent(name), encoding: .utf8)
    }

    private func json(_ text: String) throws -> [String: Any] {
        let value = try JSONSerialization.jsonObject(with: Data(text.utf8))
        return try XCTUnwrap(value as? [String: Any])
    }

    /// A field's value, which is JSON of any kind.
    private func value(_ text: String) throws -> NSObject {
        let value = try JSONSerialization.jsonObject(with: Data(text.utf8), options: .fragmentsAllowed)
        return try XCTUnwrap(value as? NSObject)
    }

    /// A code as the contracts write it: `outdoor_air_screen` for `.outdoorAirScreen`.
    private func code<Code>(_ value: Code) -> String {
        "\(value)".reduce(into: "") { $0 += $1.isUppercase ? "_\($1.lowercased())" : "\($1)" }
    }

    /// Whether one of them says all that is asked for, whatever else it says.
    private func among(_ found: [[String: Any]], _ asked: [String: Any], but left: Set<String> = []) -> Bool {
        found.contains { one in
            asked.allSatisfy { left.contains($0.key) || (one[$0.key] as? NSObject) == ($0.value as? NSObject) }
        }
    }

    private func list(_ value: Any?) throws -> [[String: Any]] {
        try XCTUnwrap(value as? [[String: Any]])
    }

    func testTheExemplarIsAssessedAsWorkedOutByHand() throws {
        let device = try Device.open(folder: folder, identity: ana)
        defer { device.shut() }
        let survey = try device.joinSurvey(id: "exemplar")
        try survey.enterPlan(survey: text("survey.json"))
        let expected = try XCTUnwrap(json(text("expected.json"))["assessment"] as? [String: Any])
        let assessment = try json(survey.assessment())
        let checks = try list(assessment["checks"])
        for asked in try list(expected["checks"]) {
            let found = checks.first {
                $0["rule"] as? String == asked["rule"] as? String
                    && $0["ref"] as? String == asked["ref"] as? String
            }
            XCTAssertEqual(found?["verdict"] as? String, asked["verdict"] as? String, "\(asked)")
        }
        let missing = try survey.missing()
        for gap in try list(expected["missing"]) {
            XCTAssertTrue(missing.contains {
                $0.about == gap["ref"] as? String && $0.field == gap["field"] as? String
            }, "\(gap)")
        }
        let hazards = try survey.hazards().map {
            ["kind": code($0.kind), "ref": $0.about ?? "", "zone": $0.zone ?? ""]
        }
        for hazard in try list(expected["hazards"]) {
            XCTAssertTrue(among(hazards, hazard, but: ["by_hand"]), "\(hazard)")
        }
        for hazard in try list(expected["no_hazards"]) {
            XCTAssertFalse(among(hazards, hazard, but: ["by_hand"]), "\(hazard)")
        }
        let findings = try list(assessment["findings"])
        for finding in try list(expected["findings"]) {
            XCTAssertTrue(among(findings, finding), "\(finding)")
        }
    }

    func testTheTranscriptsAreHeardAsWorkedOutByHand() throws {
        let device = try Device.open(folder: folder, identity: ana)
        defer { device.shut() }
        let all = try json(text("expected.json"))["interpretations"] as? [String: [String: Any]]
        for (name, expected) in try XCTUnwrap(all) {
            let survey = try device.createSurvey(siteName: name)
            let heard = try survey.dictateTranscript(transcript: text(name))
            let units = heard.equipment.map { ["ref": $0.tag, "kind": code($0.kind)] }
            for unit in try list(expected["equipment"]) {
                XCTAssertTrue(among(units, unit), "\(unit)")
            }
            let facts: [[String: Any]] = try heard.facts.map {
                ["ref": $0.about, "field": $0.field, "value": try value($0.value)]
            }
            for fact in try list(expected["facts"]) {
                XCTAssertTrue(among(facts, fact), "\(fact)")
            }
            let findings = heard.findings.map {
                ["ref": $0.about, "component": code($0.component), "condition": code($0.condition),
                 "certainty": code($0.certainty)]
            }
            for finding in try list(expected["findings"]) {
                XCTAssertTrue(among(findings, finding), "\(finding)")
            }
        }
    }

    private final class Ear: NoteListener, ChangeListener {
        var lines: [String] = []
        var asked: [String] = []
        var right: [String] = []
        var changed: [String] = []

        func heard(event: NoteEvent) throws {
            switch event {
            case .readBack(let line): lines.append(line)
            case .question(_, let field, _): asked.append(field)
            case .confirmed(_, let field): right.append(field)
            default: break
            }
            throw CallbackError.Failed(reason: "a listener that fails stops nothing")
        }

        func changed(surveyId: String) throws { changed.append(surveyId) }
    }

    func testAHandsFreeNoteReadsBackAndTheChangeIsTold() throws {
        let device = try Device.open(folder: folder, identity: ana)
        defer { device.shut() }
        let survey = try device.createSurvey(siteName: "Workshop")
        let ear = Ear()
        device.listen(listener: ear)
        let note = try survey.beginNote()
        note.listen(listener: ear)
        _ = try note.hear(segment: Segment(text: "unit two MCA 34"))
        _ = try note.hear(segment: Segment(text: "notebook right"))
        _ = try note.end()
        XCTAssertEqual(ear.lines, ["RTU-2, mca 34"])
        XCTAssertEqual(ear.asked, ["nameplate.mca_a"])
        XCTAssertEqual(ear.right, ["nameplate.mca_a"])
        XCTAssertFalse(ear.changed.isEmpty)
        XCTAssertEqual(try survey.entries(of: .equipment, most: 1).count, 1)
        XCTAssertEqual(try device.surveys().map(\.summary.name), ["Workshop"])
    }

    func testErrorsSayWhatToDoAndReopeningLosesNothing() throws {
        let device = try Device.open(folder: folder, identity: ana)
        let survey = try device.createSurvey(siteName: "Shed")
        XCTAssertThrowsError(try Device.open(folder: folder, identity: ana)) {
            guard case ScupperError.NotOpen = $0 else { return XCTFail("\($0)") }
        }
        XCTAssertThrowsError(try survey.setNumber(about: "EF-7", field: "airflow_cfm", value: 1)) {
            guard case ScupperError.BadInput = $0 else { return XCTFail("\($0)") }
        }
        let before = try survey.read()
        device.shut()
        let again = try Device.open(folder: folder, identity: ana)
        defer { again.shut() }
        XCTAssertEqual(try again.survey(id: survey.id()).read(), before)
    }
}
