// The store, open as long as the app lives, and one queue for work that waits for the disk.
// NOT BUILT where this was written: it needs a Mac.
import Foundation
import Scupper

final class LocalTime: Clock {
    func now() throws -> Moment {
        let format = ISO8601DateFormatter()
        format.timeZone = .current
        return format.string(from: Date())
    }
}

/// What the screen shows of the survey, kept up to date by a change listener.
final class Day: ObservableObject, ChangeListener {
    static let shared = Day()

    @Published private(set) var hazards: [String] = []
    @Published private(set) var missing: [String] = []
    @Published private(set) var problem: String?

    /// One thing at a time, in order, off the main thread.
    let work = DispatchQueue(label: "scupper.work", qos: .userInitiated)

    /// Both are used on `work` only, and not before this phone is enrolled.
    private(set) lazy var device: Device? = attempt { try Device.open(folder: folder, identity: identity(), clock: LocalTime()) }
    private(set) lazy var survey: Survey? = attempt { try today() }

    /// Application Support, shut until the phone was unlocked once after it was started.
    private var folder: URL {
        let base = FileManager.default.urls(for: .applicationSupportDirectory, in: .userDomainMask)[0]
        let folder = base.appendingPathComponent("store")
        try? FileManager.default.createDirectory(
            at: folder, withIntermediateDirectories: true,
            attributes: [.protectionKey: FileProtectionType.completeUntilFirstUserAuthentication])
        return folder
    }

    /// Under the name that the office gave: what is entered under another it refuses as forged.
    private func identity() throws -> Identity {
        guard let author = UserDefaults.standard.string(forKey: "author") else {
            throw OfficeProblem(errorDescription: "Enrol this phone first.")
        }
        return Identity(deviceId: Enrolment.deviceId, author: author)
    }

    private func today() throws -> Survey? {
        if let id = UserDefaults.standard.string(forKey: "survey") { return try device?.survey(id: id) }
        let survey = try device?.createSurvey(siteName: "Sample roof")
        UserDefaults.standard.set(survey?.id(), forKey: "survey")
        return survey
    }

    func begin() {
        work.async { [self] in
            device?.listen(listener: self)
            if let survey { changed(surveyId: survey.id()) }
        }
    }

    /// Called on the queue that made the change.
    func changed(surveyId: String) {
        let hazards = attempt { try survey?.hazards(most: 5) } ?? []
        let missing = attempt { try survey?.missing(most: 10) } ?? []
        DispatchQueue.main.async { [self] in
            // None listed does not mean that a place is safe.
            self.hazards = (hazards ?? []).map { "\($0.about ?? "roof"): \($0.because)" }
            self.missing = (missing ?? []).map { "\($0.about) \($0.field): \($0.why)" }
        }
    }

    /// Does something on the queue and shows what went wrong.
    func attempt<T>(_ act: () throws -> T) -> T? {
        do {
            return try act()
        } catch {
            show(error.localizedDescription)
            return nil
        }
    }

    func show(_ message: String) {
        DispatchQueue.main.async { self.problem = message }
    }

    /// Does something on the queue, for a caller that waits elsewhere.
    func onWork<T>(_ act: @escaping () throws -> T) async throws -> T {
        try await withCheckedThrowingContinuation { waiting in
            work.async { waiting.resume(with: Result(catching: act)) }
        }
    }
}
