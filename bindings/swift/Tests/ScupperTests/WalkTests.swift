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
        let near = try survey.hazards(at: "RTU-2")
        XCTAssertTrue(near.contains { $0.kind == .unprotectedEdge && $0.zone == "under_6_ft" })
    }

    func testTheTranscriptsAreHeardAsWorkedOutByHand() throws {
        let device = try Device.open(folder: folder, identity: ana)
        defer { device.shut() }
        let all = try json(text("expected.json"))["interpretations"] as? [String: [String: Any]]
        for (name, expected) in try XCTUnwrap(all) {
            let survey = try device.createSurvey(siteName: name)
            let heard = try survey.dictateTranscript(transcript: text(name))
            for fact in try list(expected["facts"]) {
                XCTAssertTrue(heard.facts.contains {
                    $0.about == fact["ref"] as? String && $0.field == fact["field"] as? String
                }, "\(fact)")
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
