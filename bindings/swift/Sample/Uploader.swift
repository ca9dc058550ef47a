// Exchanges, then sends photos through a background URLSession, one file at a time: the system goes on with it when the
// app is suspended, and wakes the app to hand over the next. NOT BUILT where this was written.
import Foundation
import Scupper

final class Uploader: NSObject, URLSessionTaskDelegate {
    static let shared = Uploader()
    /// Given by `application(_:handleEventsForBackgroundURLSession:completionHandler:)`.
    var whenSettled: (() -> Void)?

    private lazy var session: URLSession = {
        let made = URLSessionConfiguration.background(withIdentifier: "scupper.upload")
        made.isDiscretionary = false
        made.sessionSendsLaunchEvents = true
        return URLSession(configuration: made, delegate: self, delegateQueue: nil)
    }()

    private func request(_ path: String, _ method: String) -> URLRequest? {
        Enrolment.kept?.request(path, method)
    }

    /// Exchanges the survey, then sends the photos.
    func level() {
        Task {
            do {
                try await Wire.exchange(Day.shared)
                next()
            } catch {
                Day.shared.show(error.localizedDescription)
            }
        }
    }

    /// Creates the next upload in the foreground, then gives its file to the background session.
    func next() {
        let day = Day.shared
        day.work.async { [self] in
            guard let upload = day.attempt({ try day.device?.nextUpload() }) ?? nil,
                  var create = request(upload.createPath, "POST") else { return }
            for header in upload.headers { create.setValue(header.value, forHTTPHeaderField: header.name) }
            URLSession.shared.dataTask(with: create) { [self] _, answer, _ in
                guard let answer = answer as? HTTPURLResponse, (200..<300).contains(answer.statusCode) else { return }
                if answer.value(forHTTPHeaderField: "upload-complete") == "?1" {
                    return report(upload.hash, upload.part, whole: true)
                }
                append(upload, answer)
            }.resume()
        }
    }

    private func append(_ upload: Upload, _ created: HTTPURLResponse) {
        let offset = UInt64(created.value(forHTTPHeaderField: "upload-offset") ?? "0") ?? 0
        guard let place = created.value(forHTTPHeaderField: "location"), var patch = request(place, "PATCH"),
              let rest = rest(of: upload.path, from: offset) else { return }
        patch.setValue("application/partial-upload", forHTTPHeaderField: "content-type")
        patch.setValue("\(offset)", forHTTPHeaderField: "upload-offset")
        patch.setValue("?1", forHTTPHeaderField: "upload-complete")
        let task = session.uploadTask(with: patch, fromFile: rest)
        task.taskDescription = "\(upload.hash) \(upload.part == .original ? "original" : "thumbnail")"
        task.resume()
    }

    /// A background session sends whole files: what is left of one that was cut goes to a file of its own.
    private func rest(of file: URL, from offset: UInt64) -> URL? {
        guard offset > 0 else { return file }
        let copy = FileManager.default.temporaryDirectory.appendingPathComponent(UUID().uuidString)
        guard let handle = try? FileHandle(forReadingFrom: file), (try? handle.seek(toOffset: offset)) != nil,
              let data = try? handle.readToEnd(), (try? data.write(to: copy)) != nil else { return nil }
        return copy
    }

    func urlSession(_ session: URLSession, task: URLSessionTask, didCompleteWithError error: Error?) {
        let parts = (task.taskDescription ?? "").split(separator: " ").map(String.init)
        let status = (task.response as? HTTPURLResponse)?.statusCode ?? 0
        guard parts.count == 2 else { return }
        report(parts[0], parts[1] == "original" ? .original : .thumbnail, whole: (200..<300).contains(status))
    }

    private func report(_ hash: String, _ part: Part, whole: Bool) {
        let day = Day.shared
        day.work.async { [self] in
            _ = day.attempt { try day.device?.uploadResult(hash: hash, part: part, whole: whole) }
            if whole { next() }
        }
    }

    func urlSessionDidFinishEvents(forBackgroundURLSession session: URLSession) {
        DispatchQueue.main.async { self.whenSettled?(); self.whenSettled = nil }
    }
}
